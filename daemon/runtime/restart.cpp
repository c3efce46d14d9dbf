#include "daemon/runtime/restart.h"

#include <fmt/format.h>

#include <algorithm>
#include <optional>
#include <utility>

#include "daemon/formats/event_json.h"

namespace riserkeep {
namespace {

std::optional<WallTime> label(const Engine& engine, EngineTime at) {
  return engine.wall_known() ? std::optional(engine.wall(at)) : std::nullopt;
}

std::string shortened(const std::string& text) { return text.size() > 300 ? text.substr(0, 300) + "..." : text; }

}  // namespace

std::string saved(Engine& engine) {
  Archive archive = Archive::saving();
  engine.keep(archive);
  return std::move(archive).take();
}

Replayed replay_record(Engine& engine, const Restored& record) {
  Replayed result;
  if (record.snapshot) {
    Archive archive = Archive::loading(*record.snapshot);
    engine.keep(archive);
  }
  std::uint64_t seq = record.first_event_seq;
  const auto differ = [&](const std::string& replayed, const std::string& journaled) {
    if (!std::exchange(result.equal, false)) return;
    result.difference = fmt::format("event {}: replayed {}, journaled {}", seq, shortened(replayed), shortened(journaled));
  };
  for (const auto& input : record.tail) {
    Effects effects;
    engine.step(input, effects);
    ++result.inputs;
    for (const auto& [at, effect] : effects) {
      if (!is_event(effect)) continue;
      const std::string json = event_json(engine.site(), seq, label(engine, at), at, effect);
      if (result.events >= record.events.size()) differ(json, "nothing");
      else if (json != record.events[result.events].json) differ(json, record.events[result.events].json);
      ++result.events;
      ++seq;
    }
  }
  if (result.events < record.events.size()) differ("nothing", record.events[result.events].json);
  result.events = std::min(result.events, record.events.size());
  return result;
}

}  // namespace riserkeep
