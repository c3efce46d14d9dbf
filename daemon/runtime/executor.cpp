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

  journal_.append(input, effects);

  auto batch = std::make_shared<Batch>();
  batch->since = clock_.now();
  for (auto& timed : effects) {
    const auto* o = std::get_if<OutputOrder>(&timed.effect);
    if (!o) { batch->events.push_back(std::move(timed)); continue; }
    if (to_safe(*o)) continue;
    if (o->renewal) order_now(*o);             // moves nothing: only lengthens the lease of what is open
    else open_when_durable(*o);
  }
  if (batch->events.empty()) return;
  batches_.push_back(batch);
  journal_.barrier([this, batch, alive = std::weak_ptr(alive_)](bool durable) {
    if (alive.expired() || !durable) return;   // due() ends the wait for what cannot be stored
    settle(*batch, true);
    release_settled();
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

void Executor::opened(OutputOrder o, bool durable) {
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
  auto batch = std::make_shared<Batch>();
  batch->since = clock_.now();
  batch->answer = std::move(answer);
  batches_.push_back(batch);
  journal_.barrier([this, batch, alive = std::weak_ptr(alive_)](bool durable) {
    if (alive.expired() || !durable) return;
    settle(*batch, true);
    release_settled();
  });
}

void Executor::settle(Batch& batch, bool stored) {
  if (batch.settled) return;
  batch.settled = true;
  if (batch.answer) {
    if (stored) batch.answer({true, {}});
    else batch.answer({false, "the journal did not store it within 2 s: it holds now, but a restart may lose it; "
                              "look at the disk, then repeat the command"});
    batch.answer = nullptr;
  }
  for (const auto& event : batch.events) publish_(event, stored);
  batch.events.clear();
}

void Executor::release_settled() {
  while (!batches_.empty() && batches_.front()->settled) batches_.pop_front();
}

void Executor::due(EngineTime now) {
  const auto waiting = batches_;               // an answer may bring in new ones
  for (const auto& batch : waiting)
    if (!batch->settled && now - batch->since >= kPatience) settle(*batch, false);
  release_settled();
}

std::optional<EngineTime> Executor::next_deadline() const {
  std::optional<EngineTime> first;
  for (const auto& batch : batches_)
    if (!batch->settled) first = std::min(first.value_or(EngineTime::max()), batch->since + kPatience);
  return first;
}

}  // namespace riserkeep
