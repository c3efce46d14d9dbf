#include "rules/judge/link.h"

#include <algorithm>
#include <string>

#include "rules/site.h"

namespace riserkeep {
namespace {

// Nothing heard from it, of whatever quality, for its stale time. One never heard counts from the start.
bool silent(const SiteView& view, ChannelId c) {
  const ChannelState& s = view.channels[c];
  const EngineTime heard = std::max(s.heard, view.started);
  return view.now - heard > view.site[c].stale_after;
}

struct Heard {
  std::size_t channels = 0, silent = 0;
  std::optional<ChannelId> first_silent;
};

Heard listen(const SiteView& view, LinkId link) {
  Heard h;
  for (std::size_t i = 0; i < view.site.channels.size(); ++i) {
    const ChannelId c{static_cast<std::uint16_t>(i)};
    if (view.site[c].link != link) continue;
    ++h.channels;
    if (!silent(view, c)) continue;
    ++h.silent;
    if (!h.first_silent) h.first_silent = c;
  }
  return h;
}

bool down(const SiteView& view, LinkId link) {
  const LinkState& s = view.links[link.index];
  if (s.known && !s.up) return true;
  const Heard h = listen(view, link);
  return h.channels > 0 && h.silent == h.channels;
}

bool blind(const SiteView& view) {
  for (std::size_t i = 0; i < view.links.size(); ++i)
    if (!down(view, LinkId{static_cast<std::uint16_t>(i)})) return false;
  return true;
}

std::string who_is_silent(const SiteView& view, const Heard& h) {
  const Channel& c = view.site[*h.first_silent];
  std::string out = std::string{place_name(view.site, c.place)} + " " + std::string{signal_word(c)};
  if (h.silent > 1) out += " and " + std::to_string(h.silent - 1) + " more";
  return out;
}

}  // namespace

void LinkRule::judge(const SiteView& view, PlaceId place, const Params& p, State&, std::span<Verdict> out) {
  const LinkId id{place.index};
  const LinkState& link = view.links[id.index];
  const Heard h = listen(view, id);
  const bool lost = (link.known && !link.up) || h.silent > 0;
  if (!lost) {
    out[0] = link.known || h.channels > 0 ? Verdict{Clear{}} : Verdict{CannotTell{Why::no_value}};
    return;
  }
  Raise r;
  r.on_delay = p.delay;
  if (blind(view)) {
    r.priority = Priority::high;
    r.cause = "the box is blind";
  } else if (h.first_silent) {
    r.cause = who_is_silent(view, h);
  }
  out[0] = std::move(r);
}

}  // namespace riserkeep
