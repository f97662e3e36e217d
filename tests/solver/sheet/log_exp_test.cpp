// How exact are the kernels' own logarithm and exponential? Against the long double ones of the library.
#include "solver/sheet/kernel/choose.h"
#include "tests/solver/sheet/sheet_samples.h"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <limits>

namespace pellicle::sheet {
namespace {

using Function = void (*)(const double*, double*);

/// Largest relative error of `own` against `exact` over arguments drawn by `argument`, and how many were tried.
template <class Argument, class Exact>
double worst_error(Function own, const Argument& argument, const Exact& exact, int& tried) {
  double worst = 0.0;
  for (int round = 0; round < 20'000; ++round) {
    alignas(64) std::array<double, kGroup> x{}, y{};
    for (double& one : x) one = argument();
    own(x.data(), y.data());
    for (std::size_t k = 0; k < x.size(); ++k) {
      const long double right = exact(static_cast<long double>(x[k]));
      worst = std::max(worst, static_cast<double>(std::fabs((static_cast<long double>(y[k]) - right) / right)));
      ++tried;
    }
  }
  return worst;
}

// Round-off of a handful of operations on numbers near one, 1.1e-16 each; the polynomials are good to 5e-17.
constexpr double kAllowed = 5e-16;

TEST(LogExp, LogarithmIsGoodToRoundOffOverAllPositiveNumbersAndNearOne) {
  int tried = 0, sets = 0;
  for (const Kernels& k : available_kernels()) {
    SCOPED_TRACE(k.name);
    Dice dice(3);
    const auto exact = [](long double x) { return std::log(x); };
    EXPECT_LT(worst_error(
                  k.log, [&] { return std::exp(dice.in(-700.0, 700.0)); }, exact, tried),
              kAllowed);
    EXPECT_LT(worst_error(
                  k.log, [&] { return dice.in(0.3, 3.0); }, exact, tried),
              kAllowed);
    // Near one the answer is as small as the distance; it keeps all its digits.
    EXPECT_LT(worst_error(
                  k.log, [&] { return 1.0 + std::exp(dice.in(-34.0, -1.0)); }, exact, tried),
              kAllowed);
    EXPECT_LT(worst_error(
                  k.log, [&] { return 1.0 - std::exp(dice.in(-34.0, -1.0)); }, exact, tried),
              kAllowed);
    const double limits[kGroup] = {
        1.0, std::numeric_limits<double>::min(), std::numeric_limits<double>::max(), 2.0, 0.5, M_SQRT2, M_SQRT1_2, 4.0};
    double log_x[kGroup];
    k.log(limits, log_x);
    EXPECT_EQ(log_x[0], 0.0);
    for (int i = 1; i < kGroup; ++i) EXPECT_NEAR(log_x[i], std::log(limits[i]), kAllowed * std::fabs(log_x[i]));
    ++sets;
  }
  EXPECT_EQ(tried, sets * 4 * 20'000 * kGroup);
}

TEST(LogExp, ExponentialIsGoodToRoundOffUpToTheEndsOfItsRange) {
  int tried = 0, sets = 0;
  for (const Kernels& k : available_kernels()) {
    SCOPED_TRACE(k.name);
    Dice dice(4);
    const auto exact = [](long double x) { return std::exp(x); };
    EXPECT_LT(worst_error(
                  k.exp, [&] { return dice.in(-707.9, 707.9); }, exact, tried),
              kAllowed);
    EXPECT_LT(worst_error(
                  k.exp, [&] { return dice.in(-3.0, 3.0); }, exact, tried),
              kAllowed);
    const double beyond[kGroup] = {0.0, 708.0, 1e3, 1e300, -708.0, -1e3, -1e300, std::nan("")};
    double exp_x[kGroup];
    k.exp(beyond, exp_x);
    EXPECT_EQ(exp_x[0], 1.0);
    EXPECT_TRUE(exp_x[2] == exp_x[1] && exp_x[3] == exp_x[1]);
    EXPECT_TRUE(exp_x[5] == exp_x[4] && exp_x[6] == exp_x[4]);
    EXPECT_TRUE(std::isnan(exp_x[7]));
    ++sets;
  }
  EXPECT_EQ(tried, sets * 2 * 20'000 * kGroup);
}

}  // namespace
}  // namespace pellicle::sheet
