// Does one alarm come and go? Two ways of telling: `flap_changes` raises within `flap_within`, or a raise
// within 16 h of one whose "back to normal" was already told (a slow swing that beats the first way).
#pragma once

#include <deque>
#include <optional>

#include "rules/archive.h"
#include "rules/site.h"
#include "rules/time.h"

namespace riserkeep {

class Flap {
 public:
  void raised(const MessageParams&, EngineTime at);
  void cleared(EngineTime at);
  void told(EngineTime at) { told_ = at; }           // a raise of this point became a message

  bool fast(const MessageParams&, EngineTime now) const;
  bool slow(EngineTime now) const;                   // asked before told()
  // How long it must keep still to be called calm: no shorter than one and a half of its longest pause.
  Duration calm_after(const MessageParams&) const;
  EngineTime last_change() const { return changed_; }
  EngineTime first() const { return first_; }
  int count() const { return count_; }               // raises of this story
  bool forgotten(EngineTime now) const { return now - changed_ > kStory; }

  void keep(Archive& a) { a(raises_, told_, changed_, first_, longest_, count_); }

  static constexpr Duration kStory = hours(16);      // a daily swing is no flapping

 private:
  void change(EngineTime at);

  std::deque<EngineTime> raises_;                    // newest flap_changes
  std::optional<EngineTime> told_;
  EngineTime changed_, first_;
  Duration longest_{};
  int count_ = 0;
};

// "Back to normal" is told once it has held for so long: a raise sooner than that is the same story.
Duration settle_time(const MessageParams&);

}  // namespace riserkeep
