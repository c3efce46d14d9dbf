#include "daemon/history/chunks.h"

#include <doctest/doctest.h>

#include <random>

using namespace riserkeep;

namespace {
std::vector<Sample> round_trip(const std::vector<Sample>& in, std::size_t* size = nullptr) {
  ChunkPacker packer;
  for (const auto& s : in) packer.add(s);
  const std::string bytes = packer.take();
  if (size) *size = bytes.size();
  return unpack_chunk(bytes).value_or(std::vector<Sample>{});
}
}  // namespace

TEST_CASE("gaps, steps back, bad readings and extremes come back as they were") {
  const std::vector<Sample> in{{0, 38000, Quality::good, Why::none},
                               {10'000, 38001, Quality::good, Why::none},
                               {20'004, 38001, Quality::uncertain, Why::retained},
                               {30'001, std::nullopt, Quality::bad, Why::link_lost},
                               {30'001, std::nullopt, Quality::bad, Why::link_lost},
                               {7'230'001, 12, Quality::bad, Why::failed_low},
                               {7'100'000, INT64_MAX, Quality::good, Why::none},
                               {INT64_MAX, INT64_MIN, Quality::good, Why::none},
                               {INT64_MIN, -1, Quality::good, Why::none}};
  CHECK(round_trip(in) == in);
}

TEST_CASE("random samples come back as they were") {
  const unsigned seed = std::random_device{}();
  MESSAGE("seed " << seed);
  std::mt19937_64 random{seed};
  for (int round = 0; round < 200; ++round) {
    std::vector<Sample> in;
    std::int64_t ms = static_cast<std::int64_t>(random() >> 8);
    for (std::size_t i = 0; i < 1 + random() % 500; ++i) {
      ms += static_cast<std::int64_t>(random() % 20'000);
      Sample s{ms, static_cast<std::int64_t>(random() % 5 == 0 ? random() : random() % 100), static_cast<Quality>(random() % 3), static_cast<Why>(random() % 10)};
      if (random() % 4 == 0) s.ticks.reset();
      in.push_back(s);
    }
    REQUIRE(round_trip(in) == in);
  }
}

TEST_CASE("an hour at ten seconds costs about two bytes a sample") {
  std::mt19937_64 random{7};
  std::vector<Sample> in;
  for (std::int64_t i = 0; i < 360; ++i)
    in.push_back({i * 10'000 + static_cast<std::int64_t>(random() % 9), 38'000 - i / 4 + static_cast<std::int64_t>(random() % 21), Quality::good, Why::none});
  std::size_t size = 0;
  CHECK(round_trip(in, &size) == in);
  CHECK(size < 360 * 2 + 30);
}

TEST_CASE("damaged chunks never do more than fail") {
  std::mt19937_64 random{11};
  ChunkPacker packer;
  for (int i = 0; i < 50; ++i) packer.add({i * 1000, i, Quality::good, Why::none});
  const std::string good = packer.take();
  for (int round = 0; round < 5000; ++round) {
    std::string bytes = good.substr(0, random() % good.size());
    for (int i = 0; i < 3 && !bytes.empty(); ++i) bytes[random() % bytes.size()] = static_cast<char>(random());
    if (const auto s = unpack_chunk(bytes)) CHECK(s->size() <= bytes.size());
  }
}
