#include "daemon/runtime/runtime.h"

#include <spdlog/spdlog.h>

#include <algorithm>
#include <boost/asio/post.hpp>
#include <exception>
#include <utility>

#include "daemon/formats/hmac.h"
#include "daemon/formats/sha256.h"
#include "daemon/runtime/loop.h"
#include "daemon/runtime/signals.h"
#include "rules/text.h"

namespace riserkeep {
namespace {

constexpr std::size_t kMailBound = 10'000;
constexpr Duration kSnapshotEvery = hours(1);
constexpr Duration kReadyWait = seconds(20);   // a dead relay unit must not make the service manager restart us

// A key that cannot be kept must not stop the watch: then links end with this run.
std::string link_key(const Description& what, const std::string& state_dir) {
  if (what.delivery.reached_at.empty()) return random_bytes(32);
  try {
    return AckLinks::key_in(state_dir);
  } catch (const std::exception& e) {
    spdlog::warn("links that acknowledge end with this run: {}", e.what());
    return random_bytes(32);
  }
}

std::optional<TimeBefore> time_before(const Restored& record) {
  if (!record.last_at && !record.clock) return std::nullopt;
  TimeBefore before;
  before.last_seen = record.last_at.value_or(record.clock ? record.clock->engine : EngineTime{});
  if (record.clock) {
    if (!record.clock->boot_id.empty()) before.boot_id = record.clock->boot_id;
    before.offset_ms = record.clock->engine_minus_boot_ms;
    before.wall_minus_engine_ms = record.clock->wall_minus_engine_ms;
  }
  return before;
}

}  // namespace

Runtime::Loop::Loop(Description what, const RunOptions& options, const std::string& config_trouble)
    : what_(std::move(what)), state_dir_(options.state_dir), site_file_(options.site_file), config_trouble_(config_trouble),
      lock_(options.state_dir),
      mail_(what_.site.channels.size(), kMailBound,
            [this] { if (!woken_.exchange(true)) boost::asio::post(io_, [this] { take_mail(); }); }),
      store_(options.state_dir, what_.site, sha256_hex(what_.text), [this](BoxHealth h) { mail_.push(std::move(h)); },
             StoreOptions{.config_text = what_.text}),
      engine_(what_.site, what_.rules), record_(store_.restore()),
      time_(continue_time(time_before(record_), boot_id(), boot_time_ms(), wall_now())), clock_(time_.offset_ms),
      publisher_(what_.site, options.events_to_stdout ? stdout : nullptr,
                 [this](std::string_view t, const std::string& p, bool r, int q) { devices_.publish(t, p, r, q); }),
      devices_(what_, clock_, [this](Input i) { mail_.push(std::move(i)); },
               [this](WallTime t) -> std::optional<EngineTime> {
                 if (!wall_trusted_) return std::nullopt;
                 return EngineTime{Duration{t.ms - wall_minus_engine_}};
               }),
      alerts_(what_, link_key(what_, options.state_dir), alert_ports()),
      journal_(store_, engine_, [this](std::function<void()> work) { boost::asio::post(io_, std::move(work)); },
               [this](std::uint64_t seq, EngineTime at, std::optional<WallTime> wall, const Notice& n) {
                 return alerts_.decided(seq, at, wall, n);
               }),
      executor_(what_.site, clock_, journal_, devices_,
                [this](const JournalEvent& e, bool stored) {
                  publisher_.event(e, stored);
                  if (e.kind == "notice") alerts_.published(e.seq, stored, clock_.now());
                },
                [this](Input i) { mail_.push(std::move(i)); }),
      calendar_(what_.site), well_(what_.site), safe_start_(what_.site), timer_(io_), beat_timer_(io_), reload_timer_(io_), signals_(io_, SIGTERM, SIGINT, SIGHUP),
      next_input_(record_.next_input) {
  add_routes();
}

int Runtime::Loop::run() {
  int code = 0;
  try {
    begin();
    io_.run();
  } catch (const std::exception& e) {
    spdlog::critical("the loop failed: {}. Outputs are made safe now.", e.what());
    code = 1;
  }
  end();
  return code;
}

void Runtime::Loop::begin() {
  for (const auto& note : record_.notes) spdlog::warn("record: {}", note);
  const Replayed replayed = replay_record(engine_, record_);
  if (!record_.same_config) spdlog::info("restart: the site file changed; state is taken over, nothing is replayed");
  else if (record_.snapshot || replayed.inputs > 0)
    spdlog::info("restart: replayed {} inputs; {}", replayed.inputs,
                 replayed.equal ? fmt::format("compare equal, {} events", replayed.events) : "compare NOT equal: " + replayed.difference);
  else spdlog::info("first start with this state directory");
  alerts_.restore(std::move(record_.outbox), engine_.view().box[static_cast<std::size_t>(BoxPart::messages)].well, clock_.now());
  record_.tail.clear();
  record_.events.clear();

  server_.emplace(io_, state_dir_ + "/control.sock", router_);
  began_ = clock_.now();
  next_second_ = began_;
  next_snapshot_ = began_ + kSnapshotEvery;
  look_at_wall();
  step(Resumed{time_.gap_known});
  if (!replayed.equal)
    step(BoxHealth{BoxPart::history, false, "the replay of the record differs from it: " + replayed.difference});
  tell_about_config();
  devices_.start();
  alerts_.start();
  take_snapshot();
  let_signals_in();
  catch_signals();
  beat();
  tick();
  spdlog::info("watching {} systems of {} ({}); state in {}", what_.site.systems.size(), what_.site.name, what_.site.id, state_dir_);
}

void Runtime::Loop::step(Input input, const Answered& answer) {
  note_input(input);
  const bool silent = std::holds_alternative<Elapsed>(input);
  const Stamped stamped{next_input_, clock_.now(), std::move(input)};
  Effects effects;
  engine_.step(stamped, effects);
  if (silent && effects.empty()) return;   // time alone that changed nothing: the next input replays it
  next_input_ = Seq{static_cast<std::uint64_t>(next_input_) + 1};
  note_effects(effects);
  const std::string refusal = answer ? engine_.refusal() : std::string{};
  executor_.carry_out(stamped, std::move(effects));
  if (answer) executor_.answer_command(refusal, answer);
}

void Runtime::Loop::take_mail() {
  woken_ = false;
  std::vector<Input> inputs;
  mail_.drain(inputs);
  for (auto& input : inputs) {
    if (const auto* seen = std::get_if<OutputObserved>(&input)) {
      safe_start_.observed(*seen);
      if (well_.is(seen->output)) {
        well_.observed(*seen);
        continue;                          // the engine's business is what surrounds the pipes
      }
    }
    if (const auto* link = std::get_if<LinkChanged>(&input)) safe_start_.link(*link);
    step(std::move(input));
  }
  say_ready();
}

void Runtime::Loop::tick() {
  step(Elapsed{});
  const EngineTime now = clock_.now();
  executor_.due(now);
  if (now >= next_second_) {
    next_second_ = now + seconds(1);
    every_second();
  }
  arm();
}

void Runtime::Loop::arm() {
  if (stopping_) return;
  EngineTime next = next_second_;
  if (const auto due = engine_.next_deadline()) next = std::min(next, *due);
  if (const auto due = executor_.next_deadline()) next = std::min(next, *due);
  timer_.expires_after(std::max<Duration>(next - clock_.now(), milliseconds(10)));
  timer_.async_wait([this](boost::system::error_code e) {
    if (!e && !stopping_) tick();
  });
}

void Runtime::Loop::every_second() {
  look_at_wall();
  turn_calendar();
  say_ready();
  tell_people();
  mind_well_output();
  publisher_.refresh(engine_.view(), offset(), notes());
  if (const auto refused = mail_.refused(); refused != refused_told_) {
    spdlog::error("the loop was too slow: {} inputs were lost", refused - refused_told_);
    refused_told_ = refused;
  }
  if (clock_.now() >= next_snapshot_ || store_.wants_snapshot()) take_snapshot();
}

void Runtime::Loop::look_at_wall() {
  const WallNow now = wall_now();
  if (const bool well = now.synchronised || !now.known; engine_.view().box[static_cast<std::size_t>(BoxPart::clock)].well != well)
    step(BoxHealth{BoxPart::clock, well, well ? "" : "no time server has set the clock"});
  const auto seen = wall_.look(clock_.now(), now);
  if (!seen) return;
  if (seen->step_ms) spdlog::warn("the wall clock stepped by {:.1f} s; only labels change", static_cast<double>(*seen->step_ms) / 1000.0);
  wall_minus_engine_ = seen->mapping.wall_minus_engine_ms;
  wall_trusted_ = seen->mapping.synchronised;
  store_.clock({clock_.now(), boot_id(), time_.offset_ms, seen->mapping.wall_minus_engine_ms, seen->mapping.synchronised});
  step(seen->mapping);
}

void Runtime::Loop::take_snapshot() {
  next_snapshot_ = clock_.now() + kSnapshotEvery;
  store_.snapshot(saved(engine_), Seq{static_cast<std::uint64_t>(next_input_) - 1});
}

void Runtime::Loop::say_ready() {
  if (ready_) return;
  const bool settled = safe_start_.settled();
  if (!settled && clock_.now() - began_ < kReadyWait) return;
  ready_ = true;
  for (const auto output : safe_start_.unproven())
    spdlog::warn("{}: not read back safe within {}", what_.site[output].id, duration_text(kReadyWait));
  spdlog::info("ready{}", settled ? ": every output was read back safe or is out of reach" : "");
  liveness_.ready(fmt::format("watching {} systems", what_.site.systems.size()));
}

void Runtime::Loop::end() {
  stopping_ = true;
  hold_signals();                          // whoever comes next lets them in again
  if (next_) liveness_.reloading();
  else liveness_.stopping();
  server_.reset();
  timer_.cancel();
  beat_timer_.cancel();
  reload_timer_.cancel();
  devices_.stop_buses();                   // first of all, whatever else is slow
  spdlog::info("outputs are safe, buses stopped");
  try {
    step(Stopping{});
    // What the buses found while they left is our own doing, not somebody's hand on the vent.
    std::vector<Input> last;
    mail_.drain(last);
    for (auto& input : last)
      if (const auto* seen = std::get_if<OutputObserved>(&input);
          !seen || (seen->outcome != OutputOutcome::found && !well_.is(seen->output)))
        step(std::move(input));
    let_messages_out();
    take_snapshot();
    store_.stop();
    io_.restart();
    io_.poll();                            // answers of the disk that are still under way
    executor_.due(clock_.now() + hours(1));
  } catch (const std::exception& e) {
    spdlog::error("the record could not be closed in order: {}", e.what());
  }
  devices_.stop_brokers();
  spdlog::info(next_ ? "the old runtime has ended, the new one begins" : "stopped");
}

Runtime::Runtime(Description what, const RunOptions& options)
    : options_(options), loop_(std::make_unique<Loop>(std::move(what), options)) {}
Runtime::~Runtime() = default;

int Runtime::run() {
  while (true) {
    const int code = loop_->run();
    if (code != 0 || !loop_->will_reload()) return code;
    take_over();
  }
}

// A new runtime that cannot be built must not leave the systems unwatched: the old file is in force again.
void Runtime::take_over() {
  Description next = *loop_->take_next();
  Description before = loop_->description();
  loop_.reset();
  std::string trouble;
  try {
    loop_ = std::make_unique<Loop>(std::move(next), options_);
    return;
  } catch (const std::exception& e) {
    trouble = e.what();
  }
  spdlog::error("the new site file cannot be taken over: {}. The former one is in force again.", trouble);
  loop_ = std::make_unique<Loop>(std::move(before), options_, options_.site_file + ": it could not be taken over: " + trouble);
}

}  // namespace riserkeep
