#include "drivers/modbus/plan.h"

#include <algorithm>
#include <numeric>
#include <tuple>
#include <utility>

#include "drivers/decode.h"

namespace riserkeep {
namespace {

bool is_bits(RegisterTable table) { return table == RegisterTable::coil || table == RegisterTable::discrete_input; }
int cap(RegisterTable table) { return is_bits(table) ? 1000 : 125; }
int length_of(const RegisterPoint& p) { return is_bits(p.table) ? 1 : register_count(p.type); }

// Function and bytes of the answer: what libmodbus can tell one answer from another by.
std::pair<int, int> shape(RegisterTable table, int count) {
  return {static_cast<int>(table), is_bits(table) ? (count + 7) / 8 : 2 * count};
}

PollGroup make_group(std::span<const std::size_t> members, std::span<const RegisterPoint> points, Duration interval) {
  const RegisterPoint& first = points[members.front()];
  PollGroup g{first.unit, first.table, first.address, 1, interval, {members.begin(), members.end()}, {}, 0, false};
  for (const std::size_t i : members) g.count = std::max(g.count, points[i].address + length_of(points[i]) - g.address);
  return g;
}

}  // namespace

std::vector<PollGroup> group_points(std::span<const RegisterPoint> points, std::span<const Duration> polls) {
  std::vector<std::size_t> order(points.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::ranges::stable_sort(order, [&](std::size_t a, std::size_t b) {
    const RegisterPoint &p = points[a], &q = points[b];
    return std::tuple(p.unit, p.table, polls[a], p.address) < std::tuple(q.unit, q.table, polls[b], q.address);
  });
  std::vector<PollGroup> groups;
  for (const std::size_t i : order) {
    const RegisterPoint& p = points[i];
    const int end = p.address + length_of(p);
    PollGroup* g = groups.empty() ? nullptr : &groups.back();
    const bool joins = g && g->unit == p.unit && g->table == p.table && g->interval == polls[i] &&
                       p.address <= g->address + g->count && end - g->address <= cap(p.table);
    if (!joins) {
      groups.push_back(make_group(std::span(&i, 1), points, polls[i]));
      continue;
    }
    g->points.push_back(i);
    g->count = std::max(g->count, end - g->address);
  }
  return groups;
}

std::vector<PollGroup> halves(const PollGroup& group, std::span<const RegisterPoint> points) {
  const std::span all(group.points);
  const std::size_t middle = all.size() / 2;
  std::vector<PollGroup> out;
  for (const auto part : {all.first(middle), all.subspan(middle)}) {
    if (part.empty()) continue;
    out.push_back(make_group(part, points, group.interval));
    out.back().due = group.due;
  }
  return out;
}

int advance(PollGroup& group, SteadyTime now) {
  group.due += group.interval;
  if (group.due > now || group.interval.count() <= 0) return 0;
  const auto missed = (now - group.due) / group.interval + 1;
  group.due += group.interval * missed;
  return static_cast<int>(missed);
}

Resync::Resync(std::span<const PollGroup> groups_of_unit, std::span<const int> coils, int spare_register) {
  std::vector<std::pair<int, int>> taken;
  for (const PollGroup& g : groups_of_unit) taken.push_back(shape(g.table, g.count));
  if (!coils.empty()) taken.push_back(shape(RegisterTable::coil, 1));
  for (const PollGroup& g : groups_of_unit) {
    if (is_bits(g.table)) continue;
    for (int n = g.count - 1; n >= 1; --n) offer(taken, {g.table, g.address, n});
    for (int n = g.count + 1; n <= std::min(g.count + 6, 125); ++n) offer(taken, {g.table, g.address, n});
  }
  for (int n = 1; n <= 4; ++n) offer(taken, {RegisterTable::holding_register, spare_register, n});
  for (const int coil : coils) {
    for (int n = 9; n <= 25; n += 8) offer(taken, {RegisterTable::coil, coil, n});
  }
  for (int n = 5; n <= 125 && probes_.size() < 4; ++n) {
    offer(taken, {RegisterTable::holding_register, spare_register, n});
  }
}

void Resync::offer(std::vector<std::pair<int, int>>& taken, const Probe& probe) {
  const auto s = shape(probe.table, probe.count);
  if (std::ranges::find(taken, s) != taken.end() || probe.address + probe.count > 65536) return;
  taken.push_back(s);
  probes_.push_back(probe);
}

const Probe& Resync::next_probe() { return probes_[turn_++ % probes_.size()]; }

}  // namespace riserkeep
