// When to ping who watches the box. A box whose loop or bus hangs stays silent: that is the message.
#pragma once

#include <optional>
#include <string>

#include "daemon/alerts/outbox.h"
#include "rules/time.h"

namespace riserkeep {

class Heartbeat {
 public:
  explicit Heartbeat(Duration every) : every_(every) {}

  // True: send one now.
  bool due(EngineTime now, bool alive) {
    if (!alive || under_way_ || (next_ && now < *next_)) return false;
    next_ = now + every_;
    under_way_ = true;
    return true;
  }
  // True: it went well before and does not now, or the other way round.
  bool answered(const Outcome& o) {
    under_way_ = false;
    const bool was_well = trouble_.empty();
    trouble_ = o.kind == Outcome::Kind::delivered ? std::string{} : o.words;
    return was_well != trouble_.empty();
  }
  const std::string& trouble() const { return trouble_; }

 private:
  Duration every_;
  std::optional<EngineTime> next_;
  bool under_way_ = false;
  std::string trouble_;
};

}  // namespace riserkeep
