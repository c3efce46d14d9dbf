#include "daemon/formats/input_log.h"

#include <doctest/doctest.h>

#include <random>

#include "tests/daemon/formats/random_input.h"
#include "tests/daemon/formats/small_site.h"

using namespace riserkeep;
using riserkeep::testing::RandomInputs;
using riserkeep::testing::small_site;

namespace {

std::string packed(const Stamped& s) {
  std::string out;
  append_stamped(out, s);
  return out;
}

InputLogReader::Source source_of(const std::string& text) {
  return [&text, at = std::size_t{0}](char* into, std::size_t room) mutable {
    const std::size_t n = std::min(room, text.size() - at);
    text.copy(into, n, at);
    at += n;
    return n;
  };
}

}  // namespace

TEST_CASE("the test vectors of RFC 4648 section 10") {
  const std::pair<const char*, const char*> vectors[] = {{"", ""}, {"f", "Zg=="}, {"fo", "Zm8="}, {"foo", "Zm9v"},
                                                         {"foob", "Zm9vYg=="}, {"fooba", "Zm9vYmE="}, {"foobar", "Zm9vYmFy"}};
  for (const auto& [plain, coded] : vectors) {
    CHECK(base64(plain) == coded);
    CHECK(from_base64(coded) == std::string{plain});
  }
  for (const char* bad : {"Z", "Zg=", "Zg==Zg==", "Z*==", "Zh=="}) CHECK_MESSAGE(!from_base64(bad), bad);
}

TEST_CASE("every kind of input survives both forms, all fields") {
  const Site site = small_site();
  const unsigned seed = std::random_device{}();
  MESSAGE("seed " << seed);
  RandomInputs inputs{seed};
  std::string text = input_log_line(input_log_header(site, "ab12", std::string{"\0state\xff", 7}, 41)) + "\n";
  std::vector<Stamped> written;
  StampedPacker packer;
  std::array<int, std::variant_size_v<Input>> kinds{};
  for (int i = 0; i < 3000; ++i) {
    written.push_back(inputs.next());
    ++kinds[written.back().input.index()];
    text += input_log_line(written.back()) + "\n";
    packer.add(written.back());
    const std::string alone = packed(written.back());
    std::string_view rest{alone};
    Stamped back;
    REQUIRE(read_stamped(rest, back));
    REQUIRE(rest.empty());
    REQUIRE(packed(back) == alone);
  }
  for (const int n : kinds) CHECK(n > 0);

  const auto unpacked = unpack_stamped(packer.bytes());
  REQUIRE(unpacked);
  REQUIRE(unpacked->size() == written.size());
  InputLogReader reader{source_of(text), site};
  REQUIRE(reader.header());
  CHECK(reader.header()->config_sha256 == "ab12");
  CHECK(reader.header()->snapshot == std::string{"\0state\xff", 7});
  CHECK(reader.header()->first_event_seq == 41);
  CHECK(reader.header()->channels[0] == "loading-dock/pressure");
  for (std::size_t i = 0; i < written.size(); ++i) {
    REQUIRE(packed((*unpacked)[i]) == packed(written[i]));
    const auto s = reader.next();
    REQUIRE_MESSAGE(s.has_value(), reader.error().value_or(""));
    REQUIRE(packed(*s) == packed(written[i]));
  }
  CHECK(!reader.next());
  CHECK(!reader.error());
}

TEST_CASE("a line of the input log as it is documented") {
  const Reading r{ChannelId{3}, EngineTime{Duration{12340}}, 38125, Quality::good, Why::none};
  CHECK(input_log_line(Stamped{Seq{7}, EngineTime{Duration{12345}}, r}) ==
        R"({"seq":7,"at":12345,"reading":{"channel":3,"measured":12340,"ticks":38125,"quality":"good","why":"none"}})");
  const OperatorCommand c{"J. \"Jo\" Doe", SetMode{SystemId{1}, Mode::purge}};
  CHECK(input_log_line(Stamped{Seq{8}, EngineTime{Duration{12346}}, c}) ==
        R"({"seq":8,"at":12346,"command":{"who":"J. \"Jo\" Doe","set_mode":{"system":1,"mode":"purge"}}})");
}

TEST_CASE("a reading in a row of them takes at most 13 bytes packed") {
  StampedPacker packer;
  for (std::uint64_t i = 1; i <= 360; ++i) {
    const EngineTime at{Duration{1'000'000'000 + static_cast<std::int64_t>(i) * 280}};
    packer.add({Seq{i}, at, Reading{ChannelId{static_cast<std::uint16_t>(i % 36)}, at - Duration{12}, 38000 + static_cast<std::int64_t>(i), Quality::good, Why::none}});
  }
  CHECK(packer.bytes().size() < 360 * 13);
}

TEST_CASE("damage ends the reading with where and why") {
  const Site site = small_site();
  const std::string head = input_log_line(input_log_header(site, "ab", std::nullopt, 1)) + "\n";
  const auto error_of = [&](const std::string& text) {
    InputLogReader reader{source_of(text), site, "log"};
    while (reader.next()) {}
    return reader.error().value_or("none");
  };
  CHECK(error_of("").find("log:0: empty") == 0);
  CHECK(error_of("{\"riserkeep_inputs\":2,\"config_sha256\":\"\"}\n").find("newer version") != std::string::npos);
  CHECK(error_of(head + "{\"seq\":1,\"at\":5,\"elapsed\":{}}\n{\"seq\":2,\"at\":").find("log:3: the last line is cut off") == 0);
  CHECK(error_of(head + "{\"seq\":1,\"at\":5,\"elapsed\":3}\n").find("'elapsed' must be an object") != std::string::npos);
  CHECK(error_of(head + "{\"seq\":1,\"at\":5,\"link\":{\"link\":7,\"up\":true}}\n").find("does not have") != std::string::npos);
  CHECK(error_of(head + "{\"seq\":1,\"at\":5,\"link\":{\"link\":70000,\"up\":true}}\n").find("'link' is not") != std::string::npos);
  CHECK(error_of(head + "{\"seq\":1,\"at\":5,\"mood\":{}}\n").find("no kind of input") != std::string::npos);
}

TEST_CASE("random damage to either form never does more than fail") {
  const Site site = small_site();
  const unsigned seed = std::random_device{}();
  MESSAGE("seed " << seed);
  std::mt19937_64 random{seed};
  RandomInputs inputs{seed + 1};
  for (int round = 0; round < 400; ++round) {
    StampedPacker packer;
    std::string text = input_log_line(input_log_header(site, "ab", std::string{"snap"}, 1)) + "\n";
    for (int i = 0; i < 10; ++i) {
      const Stamped s = inputs.next();
      packer.add(s);
      text += input_log_line(s) + "\n";
    }
    std::string bytes = packer.take();
    for (int i = 0; i < 4; ++i) {
      bytes[random() % bytes.size()] = static_cast<char>(random());
      text[random() % text.size()] = static_cast<char>(random());
    }
    if (const auto back = unpack_stamped(bytes)) for (const auto& s : *back) CHECK(s.input.index() < std::variant_size_v<Input>);
    InputLogReader reader{source_of(text), site};
    while (const auto s = reader.next()) CHECK(fits(site, s->input));
  }
}
