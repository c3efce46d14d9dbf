#include <doctest/doctest.h>

#include <string>

#include "config/load/load.h"
#include "config/load/units.h"

using namespace riserkeep;

namespace {

std::optional<double> si(std::string text, Dimension d) {
  Problems problems("t");
  Node node;
  node.kind = Node::Kind::scalar;
  node.text = std::move(text);
  return read_quantity({&node, &problems, "x"}, d, {-1e12, 1e12});
}

}  // namespace

TEST_CASE("units convert by the factors of NIST SP 811, appendix B") {
  CHECK(*si("1 psi", Dimension::pressure) == doctest::Approx(6894.757).epsilon(1e-7));
  CHECK(*si("1.2 bar", Dimension::pressure) == doctest::Approx(120000));
  CHECK(*si("250 kPa", Dimension::pressure) == doctest::Approx(250000));
  CHECK(*si("1 gal", Dimension::volume) == doctest::Approx(3.785412e-3).epsilon(1e-7));
  CHECK(*si("1 ft3", Dimension::volume) == doctest::Approx(2.831685e-2).epsilon(1e-6));
  CHECK(*si("1 in", Dimension::length) == doctest::Approx(0.0254));
  CHECK(*si("1 ft", Dimension::length) == doctest::Approx(0.3048));
  CHECK(*si("32 F", Dimension::temperature) == doctest::Approx(273.15));
  CHECK(*si("212 °F", Dimension::temperature) == doctest::Approx(373.15));
  CHECK(*si("-40 C", Dimension::temperature) == doctest::Approx(*si("-40 F", Dimension::temperature)));
  CHECK(*si("18 F", Dimension::temperature_step) == doctest::Approx(10));
}

TEST_CASE("rates name their time") {
  const double psi = 6894.757293168361;
  CHECK(*si("1.5 psi/24h", Dimension::pressure_rate) == doctest::Approx(1.5 * psi / 86400));
  CHECK(*si("1.5 psi/d", Dimension::pressure_rate) == doctest::Approx(1.5 * psi / 86400));
  CHECK(*si("3 psi/2h", Dimension::pressure_rate) == doctest::Approx(3 * psi / 7200));
  CHECK_FALSE(si("3 psi", Dimension::pressure_rate).has_value());
  CHECK_FALSE(si("3 h/psi", Dimension::pressure_rate).has_value());
}

TEST_CASE("standard flows are of one gas amount whatever the unit") {
  // 1 scfm at 60 F and 1 atm: 28.3168 L of ideal gas at 288.706 K a minute, n = pV/RT = 1.19530 mol
  CHECK(*si("1 scfm", Dimension::flow) * 60 == doctest::Approx(101325 * 0.028316846592 / (8.314462618 * 288.7055556)));
  CHECK(*si("60 scfh", Dimension::flow) == doctest::Approx(*si("1 scfm", Dimension::flow)));
  CHECK(*si("28.316846592 L/min", Dimension::flow) == doctest::Approx(*si("1 scfm", Dimension::flow)));
  // Molar volume at 0 C and 1 atm: 22.41396954e-3 m3/mol (CODATA 2018)
  CHECK(*si("1 Nm3/h", Dimension::flow) == doctest::Approx(1 / 22.41396954e-3 / 3600).epsilon(1e-6));
}

TEST_CASE("numbers that could be read in two ways are refused") {
  for (const char* text : {"040 psi", "0x28 psi", "1,5 psi", "1_000 psi", "nan psi", "inf psi", ".inf psi", "1e999 psi",
                           "4 0 psi", "--4 psi", "4. psi", "psi", "", " "})
    CHECK_MESSAGE(!si(text, Dimension::pressure).has_value(), text);
  for (const char* text : {"40 psi", "40psi", "0.5 psi", "-3 psi", "+3 psi", "1e1 psi", " 40  psi "})
    CHECK_MESSAGE(si(text, Dimension::pressure).has_value(), text);
}

TEST_CASE("what is written reads back") {
  for (const auto& [d, v] : {std::pair{Dimension::pressure, 68947.57},
                             {Dimension::duration, 5400.0},
                             {Dimension::duration, 0.25},
                             {Dimension::temperature, 277.59444},
                             {Dimension::oxygen, 0.195},
                             {Dimension::pressure_rate, 0.12},
                             {Dimension::pressure_rate, 200.0},
                             {Dimension::length, 0.001},
                             {Dimension::count, 3.0}})
    CHECK_MESSAGE(*si(written(d, v), d) == doctest::Approx(v).epsilon(1e-5), written(d, v));
}

TEST_CASE("suggestions are near, not wild") {
  CHECK(edit_distance("cutin", "cut_in") == 1);
  CHECK(edit_distance("taps", "tasp") == 1);  // neighbours swapped
  CHECK(edit_distance("kitten", "sitting") == 3);
  CHECK(nearest("peolpe", {"people", "supply"}) == "people");
  CHECK(nearest("cut-in", {"cut_in", "cut_out"}) == "cut_in");
  CHECK(nearest("xyzzy", {"people", "supply"}).empty());
}
