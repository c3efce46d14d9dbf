// The loop's side of messages to people.
#include <spdlog/spdlog.h>

#include <boost/asio/post.hpp>
#include <nlohmann/json.hpp>

#include "daemon/formats/event_json.h"
#include "daemon/runtime/loop.h"
#include "daemon/service/commands.h"

namespace riserkeep {
namespace {

constexpr Duration kTestLimit = seconds(75);          // longer than a mail server's time-out
constexpr auto kLastWords = std::chrono::seconds(3);  // for what is under way at the end

// Collects the answers of everyone asked, then tells them in one reply.
struct TestRound {
  std::size_t open = 0;
  std::vector<Alerts::TestResult> results;
  Answer answer;

  void take(Alerts::TestResult result) {
    results.push_back(std::move(result));
    if (--open > 0) return;
    std::string list, failed;
    for (const auto& r : results) {
      list += fmt::format("{}{{\"person\": {}, \"way\": {}, \"delivered\": {}, \"words\": {}}}", list.empty() ? "" : ", ",
                          json_string(r.person), json_string(r.way), r.delivered, json_string(r.words));
      if (!r.delivered) failed += fmt::format("{}{} was not told{}: {}", failed.empty() ? "" : "\n", r.person, r.way.empty() ? "" : " by " + r.way, r.words);
    }
    std::string body = "{\"results\": [" + list + "]";
    if (!failed.empty()) body += ", \"error\": " + json_string(failed);
    answer({failed.empty() ? 200 : 502, "application/json", body + "}\n"});
  }
};

}  // namespace

std::optional<WallTime> Runtime::Loop::label_now() const {
  return engine_.wall_known() ? std::optional(engine_.wall(clock_.now())) : std::nullopt;
}

Alerts::Ports Runtime::Loop::alert_ports() {
  return {[this](OutboxMark m) { store_.outbox(std::move(m)); },
          [this](std::function<void(bool)> done) { journal_.barrier(std::move(done)); },
          [this](Input i) { mail_.push(std::move(i)); },
          [this](std::function<void()> work) { boost::asio::post(io_, std::move(work)); },
          [this]() -> const AlarmBoard& { return engine_.view().alarms; }};
}

void Runtime::Loop::tell_people() {
  alerts_.due(clock_.now(), label_now());
  alerts_.beat(clock_.now(), making_progress());
}

void Runtime::Loop::let_messages_out() {
  const auto until = std::chrono::steady_clock::now() + kLastWords;
  io_.restart();
  while (alerts_.busy() && std::chrono::steady_clock::now() < until) {
    io_.run_for(std::chrono::milliseconds(50));
    io_.restart();
    executor_.due(clock_.now());
    alerts_.due(clock_.now(), label_now());
  }
  alerts_.stop();
}

// The real path from the engine to the server's answer, to one person or to everybody.
void Runtime::Loop::notify_test(const Request& request, const Answer& answer) {
  const auto body = nlohmann::json::parse(request.body, nullptr, false);
  if (!body.is_object()) return answer(problem(400, "the body must be a JSON object"));
  std::vector<OperatorCommand> commands;
  for (const auto& person : what_.site.people) {
    nlohmann::json one = body;
    if (!one.contains("person")) one["person"] = person.id;
    auto parsed = parse_command(what_.site, "notify-test", one.dump());
    if (const auto* wrong = std::get_if<std::string>(&parsed)) return answer(problem(400, *wrong));
    commands.push_back(std::get<OperatorCommand>(std::move(parsed)));
    if (body.contains("person")) break;
  }
  if (commands.empty()) return answer(problem(400, "the site file names nobody who would be told: add people:"));
  const auto round = std::make_shared<TestRound>();
  round->answer = answer;
  round->open = commands.size();
  for (auto& command : commands) {
    const std::string person = what_.site.people[std::get<TestNotice>(command.what).person.index].id;
    alerts_.watch_test(person, clock_.now(), kTestLimit, [round](const Alerts::TestResult& r) { round->take(r); });
    step(std::move(command), [this, person](const CommandAnswer& a) {
      if (!a.done) alerts_.end_test({person, {}, false, a.why_not});
    });
  }
  arm();
}

}  // namespace riserkeep
