// Inputs of every kind with random fields that fit small_site().
#pragma once

#include <random>
#include <string>

#include "rules/input.h"

namespace riserkeep::testing {

class RandomInputs {
 public:
  explicit RandomInputs(std::uint64_t seed) : random_(seed) {}

  Stamped next() {
    seq_ += 1 + below(3);
    at_ += static_cast<std::int64_t>(below(5000));
    return {Seq{seq_}, EngineTime{Duration{at_}}, input()};
  }

 private:
  std::uint64_t below(std::uint64_t n) { return random_() % n; }
  std::uint16_t index(std::uint64_t n) { return static_cast<std::uint16_t>(below(n)); }
  bool coin() { return below(2) == 0; }
  std::string text() {
    static const std::string parts[] = {"", "Vane", "\"", "\\", "\n", "\x01", "\xC3\xA4", "{}", "7K6", "\xF0\x9F\x94\xA7"};
    return parts[below(std::size(parts))] + parts[below(std::size(parts))];
  }
  PlaceId place() {
    switch (below(6)) {
      case 0: return SystemId{index(2)};
      case 1: return SupplyId{0};
      case 2: return AnalyserId{0};
      case 3: return RoomId{0};
      case 4: return LinkId{0};
      default: return PlaceId{};
    }
  }
  double number() { return std::uniform_real_distribution<double>{-1e3, 1e3}(random_); }

  std::optional<double> maybe() { return coin() ? std::optional{number()} : std::nullopt; }

  OperatorCommand command() {
    switch (below(14)) {
      case 6: return {text(), Shelve{{text()}, Duration{static_cast<std::int64_t>(below(1'000'000'000))}, coin(), text()}};
      case 7: return {text(), Unshelve{{text()}}};
      case 8: return {text(), OutOfService{{text()}, coin(), text()}};
      case 9: return {text(), WorkStart{SystemId{index(2)}, text(), Duration{static_cast<std::int64_t>(below(1'000'000'000))}}};
      case 10: return {text(), WorkEnd{SystemId{index(2)}, coin(), coin(), coin(), text(), text()}};
      case 11: return {text(), ChoreDone{place(), static_cast<ChoreKind>(below(5)), maybe(), maybe(), text()}};
      case 12: return {text(), Repair{place(), text()}};
      case 13: return {text(), TestNotice{PersonId{index(2)}}};
      case 0: return {text(), Acknowledge{text()}};
      case 1: return {text(), Release{SystemId{index(2)}}};
      case 2: return {text(), SetMode{SystemId{index(2)}, static_cast<Mode>(below(3))}};
      case 3: return {text(), Commission{SystemId{index(2)}, coin(), number()}};
      case 4: return {text(), LockOut{SystemId{index(2)}, coin(), text()}};
      default: return {text(), HandReading{place(), static_cast<HandReadingKind>(below(3)),
                                           OxygenFraction::clamped(std::uniform_real_distribution<double>{}(random_)), text()}};
    }
  }

  Input input() {
    switch (below(10)) {
      case 9: return Stopping{text()};
      case 0: {
        Reading r{ChannelId{index(9)}, EngineTime{Duration{at_ - static_cast<std::int64_t>(below(9000))}}, std::nullopt,
                  static_cast<Quality>(below(3)), static_cast<Why>(below(10))};
        if (coin()) r.ticks = static_cast<std::int64_t>(random_());
        return r;
      }
      case 1: return command();
      case 2: return LinkChanged{LinkId{0}, coin()};
      case 3: return OutputObserved{OutputId{index(3)}, OrderNo{random_()}, static_cast<OutputOutcome>(below(4)), static_cast<OutputState>(below(3))};
      case 4: return BoxHealth{static_cast<BoxPart>(below(4)), coin(), text()};
      case 5: return WallMapped{static_cast<std::int64_t>(random_()), coin()};
      case 6: return CalendarTurned{static_cast<CalendarKey>(below(6)), coin(), index(3), static_cast<std::int32_t>(below(40000))};
      case 7: return Resumed{coin()};
      default: return Elapsed{};
    }
  }

  std::mt19937_64 random_;
  std::uint64_t seq_ = 0;
  std::int64_t at_ = 1'000'000;
};

}  // namespace riserkeep::testing
