// Is the integrator of the reference answers of the fifth order, and does it stop where it is told?
#include "solver/reference/ode.h"

#include <gtest/gtest.h>

#include <cmath>

namespace pellicle::reference {
namespace {

using State = OdeState<2>;
State turning(double, const State& y) { return {y[1], -y[0]}; }  // y = cos x
constexpr auto kNever = [](double, const State&) { return 1.0; };
constexpr auto kUnseen = [](double, const State&) {};

TEST(Ode, StepIsOfTheFifthOrder) {
  const auto error_of = [](int steps) {
    State y{1.0, 0.0};
    double ignored = 0.0;
    for (int k = 0; k < steps; ++k) y = ode_step<2>(turning, 0.0, y, 2.0 / steps, ignored);
    return std::hypot(y[0] - std::cos(2.0), y[1] + std::sin(2.0));
  };
  // 2^5 = 32 at small steps; 20 keeps away the fourth order.
  EXPECT_GT(error_of(4), 20.0 * error_of(8));
  EXPECT_GT(error_of(8), 20.0 * error_of(16));
}

TEST(Ode, EndsWithinItsToleranceAndAtItsEvent) {
  const auto end = ode_solve<2>(turning, 0.0, State{1.0, 0.0}, 10.0, 1e9, 1e-11, kNever, kUnseen);
  EXPECT_FALSE(end.stopped);
  EXPECT_EQ(end.x, 10.0);
  EXPECT_NEAR(end.y[0], std::cos(10.0), 1e-8);  // some hundred steps of 1e-11 each
  const auto zero = ode_solve<2>(
      turning, 0.0, State{1.0, 0.0}, 10.0, 1e9, 1e-11, [](double, const State& y) { return y[0]; }, kUnseen);
  EXPECT_TRUE(zero.stopped);
  EXPECT_NEAR(zero.x, std::acos(0.0), 1e-9);
}

TEST(Ode, ShowsEveryPointAndKeepsToTheLongestStep) {
  int seen = 0;
  double last = 0.0, longest = 0.0;
  ode_solve<2>(turning, 0.0, State{1.0, 0.0}, 1.0, 0.05, 1e-6, kNever, [&](double x, const State&) {
    longest = std::max(longest, x - last);
    last = x;
    ++seen;
  });
  EXPECT_GE(seen, 20);
  EXPECT_LE(longest, 0.05 * (1.0 + 1e-12));
  EXPECT_EQ(last, 1.0);
}

// y' = y^2 from 1 leaves for infinity at x = 1.
TEST(Ode, SaysThatItRanIntoASingularPoint) {
  const auto slope = [](double, const OdeState<1>& y) { return OdeState<1>{y[0] * y[0]}; };
  EXPECT_THROW(ode_solve<1>(
                   slope, 0.0, OdeState<1>{1.0}, 2.0, 1e9, 1e-9, [](double, const OdeState<1>&) { return 1.0; },
                   [](double, const OdeState<1>&) {}),
               std::runtime_error);
}

}  // namespace
}  // namespace pellicle::reference
