#include "rules/judge/box.h"

namespace riserkeep {

static_assert(static_cast<int>(BoxPart::history) == 0 && static_cast<int>(BoxPart::messages) == 1 &&
              static_cast<int>(BoxPart::clock) == 2 && static_cast<int>(BoxPart::config) == 3);

void BoxRule::judge(const SiteView& view, PlaceId, const Params&, State&, std::span<Verdict> out) {
  for (std::size_t i = 0; i < out.size(); ++i) {
    if (view.box[i].well) {
      out[i] = Clear{};
      continue;
    }
    Raise r;
    r.cause = view.box[i].why;
    out[i] = std::move(r);
  }
}

}  // namespace riserkeep
