#include "daemon/alerts/ack_link.h"

#include <doctest/doctest.h>
#include <sys/stat.h>

#include <filesystem>
#include <fstream>

#include "daemon/alerts/heartbeat.h"
#include "tests/daemon/history/temp_dir.h"

using namespace riserkeep;
using namespace riserkeep::testing;

namespace {

constexpr WallTime kNow{1'795'601'527'000};
const AckClaim kClaim{"7K6", 1234, "night", WallTime{kNow.ms + 3'600'000}};

std::string why(const AckLinks& links, const std::string& token, WallTime now = kNow) {
  const auto r = links.check(token, now);
  return std::holds_alternative<std::string>(r) ? std::get<std::string>(r) : "";
}

}  // namespace

TEST_CASE("a link says which occurrence, for whom, until when, and is used once") {
  AckLinks links("a key");
  const std::string token = links.make(kClaim);
  CHECK(token.find_first_not_of("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_.") == std::string::npos);
  const auto checked = links.check(token, kNow);
  REQUIRE(std::holds_alternative<AckClaim>(checked));
  const auto& claim = std::get<AckClaim>(checked);
  CHECK(claim.reference == "7K6");
  CHECK(claim.occurrence == 1234);
  CHECK(claim.person == "night");
  CHECK(claim.until.ms == kClaim.until.ms);

  const auto spent = links.spend(token, kNow);      // looking did not use it up
  REQUIRE(std::holds_alternative<SpentToken>(spent));
  CHECK(why(links, token) == "this link was used already");
  CHECK(std::holds_alternative<std::string>(links.spend(token, kNow)));

  AckLinks after_restart("a key");
  CHECK(why(after_restart, token).empty());
  after_restart.restore({std::get<SpentToken>(spent)});
  CHECK(why(after_restart, token) == "this link was used already");
}

TEST_CASE("a link that expired, was changed, or bears another key does not count") {
  const AckLinks links("a key");
  const std::string token = links.make(kClaim);
  CHECK(why(links, token, kClaim.until).starts_with("this link has expired"));
  CHECK(why(AckLinks("another key"), token).starts_with("this link is not one of ours"));
  for (std::size_t i = 0; i < token.size(); ++i) {
    std::string changed = token;
    changed[i] = changed[i] == 'A' ? 'B' : 'A';
    CHECK_FALSE(why(links, changed).empty());
    CHECK_FALSE(why(links, token.substr(0, i)).empty());
  }
  CHECK_FALSE(why(links, token + "A").empty());
  CHECK_FALSE(why(links, std::string(100'000, 'A')).empty());
}

TEST_CASE("the key is made once, for the owner's eyes only") {
  const TempDir dir;
  const std::string key = AckLinks::key_in(dir.path());
  CHECK(key.size() == 32);
  CHECK(AckLinks::key_in(dir.path()) == key);
  struct stat s{};
  REQUIRE(::stat((dir.path() / "ack-link.key").c_str(), &s) == 0);
  CHECK((s.st_mode & 0777) == 0600);
  std::ofstream(dir.path() / "ack-link.key", std::ios::trunc) << "short";
  const std::string next = AckLinks::key_in(dir.path());
  CHECK(next.size() == 32);
  CHECK(next != key);
  CHECK_THROWS_AS(AckLinks::key_in(dir.path() / "nowhere"), std::runtime_error);
}

TEST_CASE("the heartbeat stays out while the loop or a bus hangs, and says when its answer changes") {
  Heartbeat beat{minutes(5)};
  int sent = 0;
  for (int s = 0; s < 3600; ++s) {
    const bool hangs = s >= 1200 && s < 2400;
    if (beat.due(EngineTime{seconds(s)}, !hangs)) {
      CHECK_FALSE(hangs);
      ++sent;
      beat.answered({Outcome::Kind::delivered, false, {}});
    }
  }
  CHECK(sent == 8);
  CHECK(beat.due(EngineTime{hours(2)}, true));
  CHECK_FALSE(beat.due(EngineTime{hours(3)}, true));   // one at a time
  CHECK(beat.answered({Outcome::Kind::unreachable, false, "no route"}));
  CHECK(beat.trouble() == "no route");
  CHECK_FALSE(beat.answered({Outcome::Kind::unreachable, false, "no route"}));
}
