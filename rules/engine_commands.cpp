// What an operator's command does, part by part.
#include "rules/engine_parts.h"

namespace riserkeep {
namespace {

template <class... F>
struct Overloaded : F... {
  using F::operator()...;
};
template <class... F>
Overloaded(F...) -> Overloaded<F...>;

}  // namespace

void Engine::Parts::take(const OperatorCommand& command, Effects& out) {
  refusal.clear();
  const SiteView v = view();
  std::visit(Overloaded{
                 [&](const Acknowledge& c) { board.acknowledge(site, c.reference, command.who, now, out, refusal); },
                 [&](const Release& c) { board.release(site, c.system, command.who, now, out, refusal); },
                 [&](const SetMode& c) { venting.set_mode(v, c.system, c.mode, command.who, out, refusal); },
                 [&](const Commission& c) { venting.commission(v, c, command.who, out, refusal); },
                 [&](const LockOut& c) { venting.lock(v, c, command.who, out, refusal); },
                 [&](const TestNotice& c) { notices.test(v, c.person, command.who, out, refusal); },
                 [&](const HandReading& c) { venting.hand_reading(v, c, command.who, out, refusal); },
                 [&](const Shelve& c) { board.shelve(site, c, command.who, now, out, refusal); },
                 [&](const Unshelve& c) { board.unshelve(site, c, command.who, now, out, refusal); },
                 [&](const OutOfService& c) { board.service(site, c, command.who, now, out, refusal); },
                 [&](const WorkStart& c) { work.start(v, c, command.who, out, refusal); },
                 [&](const WorkEnd& c) { end_work(c, command.who, out); },
                 [&](const ChoreDone& c) { chores.done(site, c, command.who, now, out, refusal); },
                 [&](const Repair& c) {
                   if (c.place.kind == PlaceKind::system) twins[c.place.index].repaired(now);
                   out.push_back({now, Note{c.place, "repair by " + command.who + ": " + c.what}});
                 },
             },
             command.what);
  if (refusal.empty()) count_chores(command);
  air_in(out);
}

// A valve said to be reset is released with it. While it still looks operated the end would call everybody.
void Engine::Parts::end_work(const WorkEnd& c, std::string_view who, Effects& out) {
  const AlarmLifecycle* life = board.find(ClassId::valve_operated, c.system);
  if (life && life->condition() && work.at(c.system) && c.except.empty()) {
    refusal = "valve-operated still stands: it ends some minutes after the air is back and no water flows; wait for that, or say why not";
    return;
  }
  if (!work.end(view(), c, who, out, refusal) || !c.reset || !life || !life->latched()) return;
  std::string not_released;
  board.release(site, c.system, who, now, out, not_released);
}

// What also counts as a chore done.
void Engine::Parts::count_chores(const OperatorCommand& command) {
  if (const auto* c = std::get_if<Commission>(&command.what); c && c->gauge_compared)
    chores.counted(site, ChoreKind::gauge_comparison, c->system, command.who, now);
  const auto* r = std::get_if<HandReading>(&command.what);
  if (!r) return;
  if (r->kind == HandReadingKind::far_end) chores.counted(site, ChoreKind::hand_reading, r->place, command.who, now);
  if (r->kind != HandReadingKind::air_check) return;
  PlaceId analyser = r->place;
  if (analyser.kind == PlaceKind::system) analyser = site.systems[analyser.index].purity->analyser;
  chores.counted(site, ChoreKind::air_check, analyser, command.who, now);
}

}  // namespace riserkeep
