#include "daemon/runtime/executor.h"

#include <algorithm>
#include <utility>

namespace riserkeep {
namespace {

constexpr Duration kPatience = seconds(2);   // with the journal

}  // namespace

Executor::Executor(const Site& site, const Clock& clock, JournalPort& journal, OutputPort& outputs, Publish publish,
                   Feed feed)
    : site_(site), clock_(clock), journal_(journal), outputs_(outputs), publish_(std::move(publish)),
      feed_(std::move(feed)), newest_(site.outputs.size(), OrderNo{0}) {}

bool Executor::to_safe(const OutputOrder& o) const {
  return o.open == (site_[o.output].kind == OutputKind::supply_valve);
}

void Executor::carry_out(const Stamped& input, Effects effects) {
  // Before anything else, the disk included: what makes things safe.
  for (const auto& [at, effect] : effects)
    if (const auto* o = std::get_if<OutputOrder>(&effect); o && to_safe(*o)) order_now(*o);

  auto events = journal_.append(input, effects);

  for (const auto& [at, effect] : effects) {
    const auto* o = std::get_if<OutputOrder>(&effect);
    if (!o || to_safe(*o)) continue;
    if (o->renewal) order_now(*o);             // moves nothing: only lengthens the lease of what is open
    else open_when_durable(*o);
  }
  if (events.empty()) return;
  wait_for_disk(std::make_shared<Batch>(Batch{clock_.now(), std::move(events), {}, false}));
}

void Executor::wait_for_disk(std::shared_ptr<Batch> batch) {
  batches_.push_back(batch);
  journal_.barrier([this, batch, alive = std::weak_ptr(alive_)](bool durable) {
    if (alive.expired() || !durable) return;   // due() ends the wait for what cannot be stored
    batch->durable = true;
    release(clock_.now());
  });
}

void Executor::order_now(const OutputOrder& o) {
  OrderNo& newest = newest_[o.output.index];
  if (o.order < newest) return;
  if (o.renewal && waiting_.contains(o.output)) return;   // it would overtake the opening it renews
  newest = o.order;
  if (!o.renewal) waiting_.erase(o.output);
  outputs_.order(o);
}

void Executor::open_when_durable(const OutputOrder& o) {
  OrderNo& newest = newest_[o.output.index];
  if (o.order < newest) return;
  newest = o.order;
  waiting_[o.output] = o.order;
  journal_.barrier([this, o, alive = std::weak_ptr(alive_)](bool durable) {
    if (!alive.expired()) opened(o, durable);
  });
}

void Executor::opened(const OutputOrder& o, bool durable) {
  const auto waits = waiting_.find(o.output);
  if (waits == waiting_.end() || waits->second != o.order) return;   // a close came in between
  waiting_.erase(waits);
  if (durable && clock_.now() <= o.not_after) {
    outputs_.order(o);
    return;
  }
  const OutputState safe = site_[o.output].kind == OutputKind::supply_valve ? OutputState::open : OutputState::shut;
  feed_(OutputObserved{o.output, o.order, OutputOutcome::refused, safe});
}

void Executor::answer_command(const std::string& refusal, std::function<void(CommandAnswer)> answer) {
  if (!refusal.empty()) {
    answer({false, refusal});
    return;
  }
  wait_for_disk(std::make_shared<Batch>(Batch{clock_.now(), {}, std::move(answer), false}));
}

// In order: what is durable, and what has waited long enough. One that cannot be stored holds up the others
// for 2 s at most.
void Executor::release(EngineTime now) {
  while (!batches_.empty()) {
    const auto batch = batches_.front();
    if (!batch->durable && now - batch->since < kPatience) return;
    batches_.pop_front();
    if (batch->answer && batch->durable) batch->answer({true, {}});
    else if (batch->answer)
      batch->answer({false, "the journal did not store it within 2 s: it holds now, but a restart may lose it; "
                            "look at the disk, then repeat the command"});
    for (const auto& event : batch->events) publish_(event, batch->durable);
  }
}

void Executor::due(EngineTime now) { release(now); }

std::optional<EngineTime> Executor::next_deadline() const {
  if (batches_.empty()) return std::nullopt;
  return batches_.front()->since + kPatience;
}

}  // namespace riserkeep
