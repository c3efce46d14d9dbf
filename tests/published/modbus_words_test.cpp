// Word orders and current loops against published or recomputed figures.
#include <doctest/doctest.h>

#include <cmath>
#include <cstdint>

#include "drivers/decode.h"

using namespace riserkeep;

namespace {

struct FloatRow {
  float value;
  std::uint32_t abcd, cdab, badc, dcba;
};
// IEEE 754 single precision; bytes recomputed with an independent tool. 98.5 and 40.0 are the trade's target
// purity and a common service pressure.
constexpr FloatRow kFloats[] = {
    {1.0f, 0x3F800000, 0x00003F80, 0x803F0000, 0x0000803F},    {40.0f, 0x42200000, 0x00004220, 0x20420000, 0x00002042},
    {98.0f, 0x42C40000, 0x000042C4, 0xC4420000, 0x0000C442},   {98.5f, 0x42C50000, 0x000042C5, 0xC5420000, 0x0000C542},
    {-12.5f, 0xC1480000, 0x0000C148, 0x48C10000, 0x000048C1},  {0.1f, 0x3DCCCCCD, 0xCCCD3DCC, 0xCC3DCDCC, 0xCDCCCC3D},
    {20.946f, 0x41A79168, 0x916841A7, 0xA7416891, 0x6891A741}, {101.325f, 0x42CAA666, 0xA66642CA, 0xCA4266A6, 0x66A6CA42},
    {123456.789f, 0x47F12065, 0x206547F1, 0xF1476520, 0x6520F147},
};

double decoded(std::uint32_t wire, ValueType type, WordOrder order) {
  const std::uint16_t r[] = {static_cast<std::uint16_t>(wire >> 16), static_cast<std::uint16_t>(wire & 0xFFFF)};
  return raw_value(r, type, order).value.value();
}

double decoded(std::uint16_t wire, ValueType type, WordOrder order = WordOrder::abcd) {
  return raw_value(std::span(&wire, 1), type, order).value.value();
}

}  // namespace

TEST_CASE("float32 in the four word orders: IEEE 754 vectors") {
  for (const FloatRow& row : kFloats) {
    CAPTURE(static_cast<double>(row.value));
    CHECK(decoded(row.abcd, ValueType::float32, WordOrder::abcd) == static_cast<double>(row.value));
    CHECK(decoded(row.cdab, ValueType::float32, WordOrder::cdab) == static_cast<double>(row.value));
    CHECK(decoded(row.badc, ValueType::float32, WordOrder::badc) == static_cast<double>(row.value));
    CHECK(decoded(row.dcba, ValueType::float32, WordOrder::dcba) == static_cast<double>(row.value));
  }
}

TEST_CASE("float32 limits of IEEE 754, and a wrong order shows as a tiny number") {
  CHECK(decoded(0x00000001u, ValueType::float32, WordOrder::abcd) == 1.401298464324817e-45);
  CHECK(decoded(0x00800000u, ValueType::float32, WordOrder::abcd) == 1.1754943508222875e-38);
  CHECK(decoded(0x7F7FFFFFu, ValueType::float32, WordOrder::abcd) == 3.4028234663852886e+38);
  CHECK(std::signbit(decoded(0x80000000u, ValueType::float32, WordOrder::abcd)));
  CHECK(decoded(0x42200000u, ValueType::float32, WordOrder::cdab) == doctest::Approx(2.37e-41).epsilon(0.01));
}

TEST_CASE("Integers in two's complement, one and two registers, four orders") {
  CHECK(decoded(std::uint16_t{65535}, ValueType::int16) == -1);
  CHECK(decoded(std::uint16_t{32768}, ValueType::int16) == -32768);
  CHECK(decoded(std::uint16_t{65535}, ValueType::uint16) == 65535);
  CHECK(decoded(std::uint16_t{0x0102}, ValueType::uint16, WordOrder::badc) == 0x0201);
  CHECK(decoded(0xFFFE7960u, ValueType::int32, WordOrder::abcd) == -100000);
  CHECK(decoded(0x7960FFFEu, ValueType::int32, WordOrder::cdab) == -100000);
  CHECK(decoded(0xFEFF6079u, ValueType::int32, WordOrder::badc) == -100000);
  CHECK(decoded(0x6079FEFFu, ValueType::int32, WordOrder::dcba) == -100000);
  CHECK(decoded(0xFFFE7960u, ValueType::uint32, WordOrder::abcd) == 4294867296.0);
}

// NAMUR NE 43: 3.6, 3.8, 20.5, 21.0 mA (bands between them: uncertain).
TEST_CASE("Current loop bands of NAMUR NE 43, each side of each limit") {
  struct Row { double milliamp; Quality quality; Why why; };
  const Row rows[] = {
      {0.0, Quality::bad, Why::failed_low},         {3.6, Quality::bad, Why::failed_low},
      {3.601, Quality::uncertain, Why::out_of_range}, {3.799, Quality::uncertain, Why::out_of_range},
      {3.8, Quality::good, Why::none},              {4.0, Quality::good, Why::none},
      {12.0, Quality::good, Why::none},             {20.5, Quality::good, Why::none},
      {20.501, Quality::uncertain, Why::out_of_range}, {20.999, Quality::uncertain, Why::out_of_range},
      {21.0, Quality::bad, Why::failed_high},       {24.0, Quality::bad, Why::failed_high},
  };
  for (const Row& row : rows) {
    CAPTURE(row.milliamp);
    CHECK(ne43(row.milliamp).quality == row.quality);
    CHECK(ne43(row.milliamp).why == row.why);
  }
}

// value = (I - 4) / 16 x span; figures recomputed.
TEST_CASE("Current loop to 0-100 psi and 0-25 % oxygen") {
  struct Row { double milliamp, psi, percent; };
  const Row rows[] = {{3.6, -2.5, -0.625}, {3.8, -1.25, -0.3125}, {4, 0, 0},         {5.28, 8, 2.0},
                      {8, 25, 6.25},       {10.4, 40, 10},        {12, 50, 12.5},    {17.40544, 83.784, 20.946},
                      {20, 100, 25},       {20.5, 103.125, 25.78125}, {21, 106.25, 26.5625}};
  for (const Row& row : rows) {
    CAPTURE(row.milliamp);
    Conversion psi, percent;
    psi.loop = CurrentLoop{.milliamp_per_count = 1, .low = 0, .high = 100};
    percent.loop = CurrentLoop{.milliamp_per_count = 1, .low = 0, .high = 25};
    CHECK(*convert({row.milliamp, {}}, psi, Signal::pressure).ticks == std::llround(row.psi * 1000));
    CHECK(std::abs(static_cast<double>(*convert({row.milliamp, {}}, percent, Signal::oxygen).ticks) - row.percent * 1000) <= 0.5);
  }
}
