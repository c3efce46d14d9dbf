// Fits and quantiles against NIST StRD certified values and Student t tables. Tolerances: NIST certifies 11
// to 15 digits; double arithmetic with centred sums keeps 12 of them for the lines, 8 for the curves.
#include "rules/maths.h"

#include <doctest/doctest.h>

#include <cmath>
#include <vector>

using namespace riserkeep;
using doctest::Approx;

namespace {
Approx near(double v, double relative) { return Approx(v).scale(0.0).epsilon(relative); }
const std::vector<double> kNorrisY{0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3,
                                   0.1, 778.1, 668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3,
                                   0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2};
const std::vector<double> kNorrisX{0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4,
                                   0.6, 775.5, 666.9, 338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3,
                                   0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5};
}  // namespace

TEST_CASE("published: NIST StRD Norris, straight line") {
  const auto f = fit_line(kNorrisX, kNorrisY);
  REQUIRE(f);
  CHECK(f->intercept == near(-0.262323073774029, 1e-11));
  CHECK(f->intercept_sd == near(0.232818234301152, 1e-11));
  CHECK(f->slope == near(1.00211681802045, 1e-13));
  CHECK(f->slope_sd == near(0.429796848199937e-3, 1e-11));
  CHECK(f->residual_sd == near(0.884796396144373, 1e-11));
  CHECK(f->r_squared == near(0.999993745883712, 1e-13));
  CHECK(f->n == 36);
}

TEST_CASE("published: NIST StRD NoInt1 and NoInt2, through the origin") {
  std::vector<double> x, y;
  for (int i = 60; i <= 70; ++i) x.push_back(i), y.push_back(i + 70);
  const auto one = fit_through_origin(x, y);
  REQUIRE(one);
  CHECK(one->slope == near(2.07438016528926, 1e-14));
  CHECK(one->slope_sd == near(0.0165289256198347, 1e-12));
  CHECK(one->residual_sd == near(3.56753034006338, 1e-12));
  CHECK(one->r_squared == near(0.999365492298663, 1e-13));
  const auto two = fit_through_origin(std::vector<double>{4, 5, 6}, std::vector<double>{3, 4, 4});
  REQUIRE(two);
  CHECK(two->slope == near(0.727272727272727, 1e-14));
  CHECK(two->slope_sd == near(0.0420827318078432, 1e-12));
  CHECK(two->residual_sd == near(0.369274472937998, 1e-12));
}

TEST_CASE("published: a whole-number weight is that many equal points") {
  const std::vector<double> x{1, 2, 4}, y{1, 3, 4}, w{1, 2, 3};
  const std::vector<double> xs{1, 2, 2, 4, 4, 4}, ys{1, 3, 3, 4, 4, 4};
  CHECK(fit_line(x, y, w)->slope == near(fit_line(xs, ys)->slope, 1e-14));
  CHECK(fit_through_origin(x, y, w)->slope == near(fit_through_origin(xs, ys)->slope, 1e-14));
}

TEST_CASE("published: NIST StRD Misra1a and BoxBOD, approach to a limit") {
  // y = b1 (1 - exp(-b2 x)): limit b1, rate b2, start pinned at 0
  const std::vector<double> my{10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78};
  const std::vector<double> mx{77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0};
  const auto misra = fit_approach(mx, my, 0.0);
  REQUIRE(misra);
  CHECK(misra->limit == near(2.3894212918e2, 1e-8));
  CHECK(misra->limit_sd == near(2.7070075241, 1e-6));
  CHECK(misra->rate == near(5.5015643181e-4, 1e-8));
  CHECK(misra->rate_sd == near(7.2668688436e-6, 1e-6));
  CHECK(misra->rss == near(1.2455138894e-1, 1e-9));
  CHECK(misra->df == 12);

  const auto box = fit_approach(std::vector<double>{1, 2, 3, 5, 7, 10}, std::vector<double>{109, 149, 149, 191, 213, 224}, 0.0);
  REQUIRE(box);
  CHECK(box->limit == near(2.1380940889e2, 1e-8));
  CHECK(box->limit_sd == near(1.2354515176e1, 1e-6));
  CHECK(box->rate == near(5.4723748542e-1, 1e-8));
  CHECK(box->rate_sd == near(1.0455993237e-1, 1e-6));
  CHECK(box->residual_sd == near(1.7088072423e1, 1e-9));
}

TEST_CASE("published: an exact decay to an offset is found") {
  std::vector<double> t, y;
  for (int i = 0; i < 12; ++i) t.push_back(i), y.push_back(1.5 + 19.4 * std::exp(-0.2 * i));
  const auto f = fit_approach(t, y);
  REQUIRE(f);
  CHECK(f->limit == near(1.5, 1e-9));
  CHECK(f->start == near(20.9, 1e-9));
  CHECK(f->rate == near(0.2, 1e-9));
}

TEST_CASE("published: Student t table") {
  struct Row { double df, p95, p975, p995; };
  // Any printed table; six decimals recomputed with an independent library
  for (const Row& r : {Row{1, 6.313752, 12.706205, 63.656741}, Row{2, 2.919986, 4.302653, 9.924843}, Row{3, 2.353363, 3.182446, 5.840909},
                       Row{5, 2.015048, 2.570582, 4.032143}, Row{10, 1.812461, 2.228139, 3.169273}, Row{30, 1.697261, 2.042272, 2.749996},
                       Row{120, 1.657651, 1.979930, 2.617421}, Row{1e9, 1.644854, 1.959964, 2.575829}}) {
    CAPTURE(r.df);
    CHECK(student_t(0.95, r.df) == near(r.p95, 5e-7));
    CHECK(student_t(0.975, r.df) == near(r.p975, 5e-7));
    CHECK(student_t(0.995, r.df) == near(r.p995, 5e-7));
    CHECK(student_t(0.025, r.df) == near(-r.p975, 5e-7));
  }
}

TEST_CASE("published: NIST StRD NumAcc1 to NumAcc3, mean, sd, lag-1 autocorrelation") {
  const std::vector<double> one{10000001, 10000003, 10000002};
  CHECK(mean_of(one) == 10000002.0);
  CHECK(sd_of(one) == 1.0);
  CHECK(lag1_autocorrelation(one) == near(-0.5, 1e-14));
  for (const double base : {1.0, 1000000.0}) {
    // The data themselves cannot be written exactly: at 1e6 their rounding is 1e-10, 1e-9 of the sd
    std::vector<double> v{base + 0.2};
    for (int i = 0; i < 500; ++i) v.push_back(base + 0.1), v.push_back(base + 0.3);
    CAPTURE(base);
    CHECK(mean_of(v) == near(base + 0.2, 1e-15));
    CHECK(sd_of(v) == near(0.1, base < 10 ? 1e-13 : 2e-9));
    CHECK(lag1_autocorrelation(v) == near(-0.999, base < 10 ? 1e-13 : 2e-9));
  }
}

TEST_CASE("published: what cannot be fitted is refused") {
  const std::vector<double> two{1, 2}, same{3, 3, 3}, y{1, 2, 3};
  CHECK_FALSE(fit_line(two, two));
  CHECK_FALSE(fit_line(same, y));
  CHECK_FALSE(fit_line(y, two));
  CHECK_FALSE(fit_through_origin(std::vector<double>{0, 0}, two));
  CHECK_FALSE(fit_approach(y, y));
  CHECK_FALSE(fit_approach(std::vector<double>{0, 1, 2, 3, 4, 5}, std::vector<double>{0, 1, 2, 3, 4, 5}));
  CHECK_FALSE(median({}));
  CHECK(*median({3, 1, 2}) == 2.0);
  CHECK(*median({4, 1, 2, 3}) == 2.5);
}
