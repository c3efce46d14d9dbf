// Which place and channel had which number when a state was saved. The site file may be edited between save and
// load: what is kept belongs to the id, never to the number.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "rules/archive.h"
#include "rules/ids.h"
#include "rules/site.h"

namespace riserkeep {

inline constexpr std::size_t kPlaceKinds = 6;

struct SiteIds {
  std::array<std::vector<std::string>, kPlaceKinds> places;  // by PlaceKind
  std::vector<std::string> channels;                         // "loading-dock pressure"
  std::vector<std::string> windows;                          // with the systems each of them is for
  void keep(Archive& a) { a(places, channels, windows); }
  bool operator==(const SiteIds&) const = default;
};
SiteIds names_of(const Site&);

// From the numbers of a saved state to those of the present site.
class Renumbering {
 public:
  using From = std::vector<std::optional<std::size_t>>;      // by present number: the saved one

  Renumbering(const SiteIds& saved, const SiteIds& present);
  const From& of(PlaceKind kind) const { return places_[static_cast<std::size_t>(kind)]; }
  const From& channels() const { return channels_; }
  std::optional<PlaceId> now(PlaceId saved) const;           // nothing: the site no longer has it

  // What is new begins as `fresh`.
  template <class T>
  static void apply(std::vector<T>& list, const From& from, const T& fresh = {}) {
    std::vector<T> out(from.size(), fresh);
    for (std::size_t i = 0; i < from.size(); ++i)
      if (from[i] && *from[i] < list.size()) out[i] = std::move(list[*from[i]]);
    list = std::move(out);
  }

 private:
  std::array<From, kPlaceKinds> places_;
  From channels_;
};

}  // namespace riserkeep
