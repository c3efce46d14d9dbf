#include "daemon/rehearsal/commissioning.h"

#include "rules/units.h"

namespace riserkeep {
namespace {

constexpr int kLongestMinutes = 120;

std::string commission(Rehearsal& rehearsal, SystemId id, const std::string& who) {
  const double gauge = in_psi(rehearsal.room().truth(id).pressure);
  const std::string refused = rehearsal.command(who, Commission{id, true, gauge});
  for (int minute = 0; refused.empty() && minute < kLongestMinutes; ++minute) {
    if (rehearsal.engine().view().vent(id).commissioning.done) break;
    rehearsal.run_for(minutes(1));
  }
  return refused;
}

}  // namespace

std::vector<std::string> commission_and_purge(Rehearsal& rehearsal, const std::string& who) {
  const Site& site = rehearsal.engine().site();
  std::vector<std::string> remarks;
  std::vector<SystemId> proved;
  const auto noted = [&](SystemId id, const std::string& why) {
    if (!why.empty()) remarks.push_back(site[id].name + " stays in watch: " + why);
    return why.empty();
  };
  for (std::size_t i = 0; i < site.systems.size(); ++i) {
    const SystemId id{static_cast<std::uint16_t>(i)};
    if (site[id].vent && noted(id, commission(rehearsal, id, who))) proved.push_back(id);
  }
  for (const SystemId id : proved) noted(id, rehearsal.command(who, SetMode{id, Mode::purge}));
  return remarks;
}

}  // namespace riserkeep
