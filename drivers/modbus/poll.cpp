// The part of the bus thread that speaks: outputs, probes, data reads, and what is published of them.
#include <fmt/format.h>
#include <spdlog/spdlog.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "drivers/decode.h"
#include "drivers/modbus/worker.h"

namespace riserkeep {
namespace {

using std::chrono::steady_clock;

CallResult result_of(const Answer& a) {
  switch (a.trouble) {
    case Trouble::none: return CallResult::done;
    case Trouble::refused: return CallResult::refused;
    case Trouble::lost:
    case Trouble::broken: break;
  }
  return CallResult::lost;
}

// Exceptions that will not go away by asking again: function, address, value.
bool lasting(int exception) { return exception >= 1 && exception <= 3; }

}  // namespace

void ModbusBus::Worker::build_resync(BusDevice& d) {
  std::vector<PollGroup> own;
  for (const PollGroup& g : groups_) {
    if (g.unit == d.unit) own.push_back(g);
  }
  std::vector<int> coils;
  int spare = 0;
  for (const BusOutput* o : desk_.of_unit(d.unit)) {
    coils.push_back(o->wiring.coil);
    if (o->wiring.device_time_out) spare = o->wiring.device_time_out->register_address;
  }
  const bool needed = d.resync.needed();
  d.resync = Resync(own, coils, spare);
  if (needed) d.resync.lost();
}

// True when the unit's next answer can be trusted to belong to its request; else sends one probe.
bool ModbusBus::Worker::ask_in_step(BusDevice& d) {
  if (!wire_.serial() || !d.resync.needed()) return true;
  const Probe probe = d.resync.next_probe();
  std::array<std::uint16_t, 125> ignored{};
  const Answer a = call(d, [&] {
    return wire_.read(d.unit, probe.table, probe.address, std::span(ignored).first(static_cast<std::size_t>(probe.count)));
  });
  if (a.trouble == Trouble::none || a.trouble == Trouble::refused) {
    d.resync.answered();
    books_.resync();
  }
  return false;
}

void ModbusBus::Worker::work_for(BusOutput& o) {
  BusDevice& d = device(o.wiring.unit);
  const BusCall what = *o.lease.next();
  // A write towards safe waits for nothing; what is believed afterwards is only what is read back in step.
  if (what != BusCall::write_safe && !ask_in_step(d)) {
    if (d.failures > 0) o.fresh = false;
    return;
  }
  bool coil_on = false;
  const CallResult result = carry_out(d, o, what, coil_on);
  desk_.done(o, what, result, coil_on, steady_clock::now());
}

CallResult ModbusBus::Worker::carry_out(BusDevice& d, BusOutput& o, BusCall what, bool& coil_on) {
  if (what != BusCall::read_back) {
    const bool on = what == BusCall::write_unsafe;
    const Answer a = call(d, [&] { return wire_.write_coil(d.unit, o.wiring.coil, on); });
    if (a.trouble == Trouble::refused) books_.note(d.unit, fmt::format("{}: {}", o.wiring.printed, a.text));
    return result_of(a);
  }
  std::array<std::uint16_t, 1> bit{};
  const Answer a = call(d, [&] { return wire_.read(d.unit, RegisterTable::coil, o.wiring.coil, bit); });
  coil_on = bit[0] != 0;
  if (a.trouble == Trouble::refused) {
    books_.note(d.unit, fmt::format("{}: cannot be read back: {}", o.wiring.printed, a.text));
  }
  return result_of(a);
}

void ModbusBus::Worker::write_time_outs(BusDevice& d) {
  const DeviceTimeOut t = d.time_outs_to_write.back();
  const double counts = std::round(in_seconds(t.after) * t.counts_per_second);
  const auto value = static_cast<std::uint16_t>(std::clamp(counts, 1.0, 65535.0));
  const Answer a = call(d, [&] { return wire_.write_register(d.unit, t.register_address, value); });
  if (a.trouble == Trouble::refused) {
    books_.note(d.unit, fmt::format("does not take its time-out at register {}: {}; it will not close by itself when "
                                    "the line is cut", t.register_address, a.text));
  }
  if (a.trouble == Trouble::none || a.trouble == Trouble::refused) d.time_outs_to_write.pop_back();
}

// Due groups of answering devices first, by due time; a dead device gets one try per round of the others.
PollGroup* ModbusBus::Worker::next_group(SteadyTime now) {
  PollGroup *live = nullptr, *suspect = nullptr;
  int live_groups = 0;
  for (PollGroup& g : groups_) {
    const BusDevice& d = device(g.unit);
    PollGroup*& best = d.failures == 0 ? live : suspect;
    if (d.failures == 0) ++live_groups;
    const bool ready = d.failures == 0 ? g.due <= now : d.reachable(now);
    if (ready && (!best || g.due < best->due)) best = &g;
  }
  if (suspect && (!live || live_calls_ >= live_groups)) {
    live_calls_ = 0;
    return suspect;
  }
  ++live_calls_;
  return live;
}

void ModbusBus::Worker::poll(PollGroup& g) {
  BusDevice& d = device(g.unit);
  if (!ask_in_step(d)) return;
  std::array<std::uint16_t, 1000> data{};
  const auto wanted = std::span(data).first(static_cast<std::size_t>(g.count));
  const Answer a = call(d, [&] { return wire_.read(d.unit, g.table, g.address, wanted); });
  if (a.trouble == Trouble::lost || a.trouble == Trouble::broken) return;   // stays due; publish_silent tells
  if (a.trouble == Trouble::refused) return refused(g, a);
  if (std::exchange(g.disabled, false)) books_.enabled(name(g));
  g.refusals = 0;
  publish(g, wanted);
  turn(g);
}

void ModbusBus::Worker::turn(PollGroup& g) {
  if (const int missed = advance(g, steady_clock::now()); missed > 0) books_.missed(missed);
}

void ModbusBus::Worker::publish(const PollGroup& g, std::span<const std::uint16_t> registers) {
  const EngineTime at = clock_.now();
  for (const std::size_t i : g.points) {
    const RegisterPoint& p = points_[i];
    const Signal signal = site_[p.channel].signal;
    const auto own = registers.subspan(static_cast<std::size_t>(p.address - g.address));
    const bool bits = p.table == RegisterTable::coil || p.table == RegisterTable::discrete_input;
    const Decoded v = bits ? decode_bit(own[0] != 0, p.conversion, signal) : decode_registers(own, p, signal);
    sink_(Reading{p.channel, at, v.ticks, v.quality, v.why});
  }
}

void ModbusBus::Worker::publish_bad(const PollGroup& g, Why why) {
  const EngineTime at = clock_.now();
  for (const std::size_t i : g.points) sink_(Reading{points_[i].channel, at, std::nullopt, Quality::bad, why});
}

void ModbusBus::Worker::publish_silent(SteadyTime now) {
  for (PollGroup& g : groups_) {
    if (g.due > now || (wire_.connected() && !device(g.unit).silent())) continue;
    if (!wire_.connected() && link_backoff_.failures() == 0) continue;   // reconnecting this very moment
    publish_bad(g, Why::link_lost);
    advance(g, now);
  }
}

std::string ModbusBus::Worker::name(const PollGroup& g) const {
  const std::string& printed = points_[g.points.front()].printed;
  return printed.empty() ? fmt::format("unit {} address {}", g.unit, g.address) : printed;
}

void ModbusBus::Worker::refused(PollGroup& g, const Answer& a) {
  BusDevice& d = device(g.unit);
  if (d.failures > 0) return;            // a gateway speaking for a silent device; publish_silent tells
  // On a serial line the refusal may be a late one, meant for a probe: believed when it comes again in step.
  if (wire_.serial() && g.refusals == 0) d.resync.lost();
  if (!lasting(a.exception)) {
    books_.note(d.unit, fmt::format("{}: {}", name(g), a.text));
    publish_bad(g, Why::no_value);
    return turn(g);
  }
  if (++g.refusals < 2) return;
  if (g.points.size() > 1) return split(g);
  if (!g.disabled) {
    spdlog::warn("{}: {}: {}", site_.links.at(wiring_.link.index).id, name(g), a.text);
    books_.disabled(name(g), fmt::format("the device refuses it: {}; check address and table against its sheet", a.text));
  }
  g.disabled = true;
  publish_bad(g, Why::no_value);
  g.due = steady_clock::now() + std::max<Duration>(g.interval, seconds(60));   // asked now and then: sheets get corrected
}

void ModbusBus::Worker::split(PollGroup& g) {
  const int unit = g.unit;
  const std::vector<PollGroup> parts = halves(g, points_);
  g = parts.front();
  groups_.insert(groups_.end(), parts.begin() + 1, parts.end());
  build_resync(device(unit));
}

}  // namespace riserkeep
