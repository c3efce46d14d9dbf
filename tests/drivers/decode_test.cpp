#include "drivers/decode.h"

#include <doctest/doctest.h>

#include <limits>

using namespace riserkeep;

namespace {

Conversion scaled(double scale, double offset = 0) {
  Conversion c;
  c.scale = scale;
  c.offset = offset;
  return c;
}
Conversion inverted() {
  Conversion c;
  c.inverted = true;
  return c;
}

Decoded pressure(double raw, Conversion c) { return convert({raw, static_cast<std::int64_t>(raw)}, c, Signal::pressure); }

}  // namespace

TEST_CASE("Scale and offset give ticks of the printed unit, rounded once") {
  CHECK(pressure(4012, scaled(0.01)) == Decoded{40120, Quality::good, Why::none});       // 40.12 psi
  CHECK(pressure(1, scaled(0.0005)) == Decoded{1, Quality::good, Why::none});            // half a tick away from zero
  CHECK(pressure(-1, scaled(0.0005)).ticks == -1);
  CHECK(pressure(250, scaled(0.1, -40)).ticks == -15000);
}

TEST_CASE("Codes that mean no value, and floats that are none, never become numbers") {
  Conversion c;
  c.invalid = {-32768, 65535};
  CHECK(pressure(-32768, c) == Decoded{std::nullopt, Quality::bad, Why::no_value});
  CHECK(pressure(65535, c).why == Why::no_value);
  CHECK(pressure(65534, c).quality == Quality::good);
  for (const std::uint32_t bits : {0x7FC00000u, 0x7F800000u, 0xFF800000u}) {
    const std::uint16_t r[] = {static_cast<std::uint16_t>(bits >> 16), static_cast<std::uint16_t>(bits)};
    CHECK_FALSE(raw_value(r, ValueType::float32, WordOrder::abcd).value.has_value());
  }
  const double largest = static_cast<double>(std::numeric_limits<float>::max());
  CHECK(convert({largest, {}}, {}, Signal::pressure) == Decoded{std::nullopt, Quality::bad, Why::out_of_range});
}

TEST_CASE("Outside the valid range a value is kept, bad, and not clamped") {
  Conversion c;
  c.valid_low = 0;
  c.valid_high = 100;
  CHECK(pressure(100, c).quality == Quality::good);
  CHECK(pressure(101, c) == Decoded{101000, Quality::bad, Why::out_of_range});
  CHECK(pressure(-1, c) == Decoded{-1000, Quality::bad, Why::out_of_range});
}

TEST_CASE("Contacts are 0 or 1, inverted where the wiring says so") {
  CHECK(decode_bit(true, {}, Signal::waterflow).ticks == 1);
  CHECK(decode_bit(true, inverted(), Signal::waterflow).ticks == 0);
  RegisterPoint p;
  p.type = ValueType::uint16;
  const std::uint16_t seven[] = {7};
  CHECK(decode_registers(seven, p, Signal::lockout).ticks == 1);
  p.conversion.invalid = {7};
  CHECK(decode_registers(seven, p, Signal::lockout).why == Why::no_value);
}

TEST_CASE("Too few registers are no value") {
  const std::uint16_t one[] = {1};
  CHECK_FALSE(raw_value(one, ValueType::float32, WordOrder::abcd).value.has_value());
}
