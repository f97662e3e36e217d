// How is an ordinary differential equation carried forward to a chosen accuracy, and stopped where something happens?
//
// Dormand and Prince, J. Comput. Appl. Math. 6 (1980) 19: fifth order, step chosen by the embedded fourth (citation and
// coefficients from memory; tests/solver/reference shows the order).
#pragma once

#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <stdexcept>

namespace pellicle::reference {

template <std::size_t N>
using OdeState = std::array<double, N>;

/// One step of length h from y at x; `error` is the largest difference of the two orders over (1 + |y|).
template <std::size_t N, class Slope>
OdeState<N> ode_step(const Slope& slope, double x, const OdeState<N>& y, double h, double& error) {
  constexpr double kNode[7] = {0.0, 1.0 / 5, 3.0 / 10, 4.0 / 5, 8.0 / 9, 1.0, 1.0};
  constexpr double kRow[7][6] = {
      {},
      {1.0 / 5},
      {3.0 / 40, 9.0 / 40},
      {44.0 / 45, -56.0 / 15, 32.0 / 9},
      {19372.0 / 6561, -25360.0 / 2187, 64448.0 / 6561, -212.0 / 729},
      {9017.0 / 3168, -355.0 / 33, 46732.0 / 5247, 49.0 / 176, -5103.0 / 18656},
      {35.0 / 384, 0.0, 500.0 / 1113, 125.0 / 192, -2187.0 / 6784, 11.0 / 84},
  };
  constexpr double kFourth[7] = {5179.0 / 57600,    0.0,          7571.0 / 16695, 393.0 / 640,
                                 -92097.0 / 339200, 187.0 / 2100, 1.0 / 40};
  std::array<OdeState<N>, 7> k{};
  OdeState<N> at{};
  for (std::size_t s = 0; s < 7; ++s) {
    at = y;
    for (std::size_t j = 0; j < s; ++j)
      for (std::size_t i = 0; i < N; ++i) at[i] += h * kRow[s][j] * k[j][i];
    k[s] = slope(x + kNode[s] * h, at);
  }
  error = 0.0;  // the last stage stands at the new point: `at` is the fifth-order result
  for (std::size_t i = 0; i < N; ++i) {
    double fourth = y[i];
    for (std::size_t s = 0; s < 7; ++s) fourth += h * kFourth[s] * k[s][i];
    const double off = std::fabs(at[i] - fourth) / (1.0 + std::fabs(at[i]));
    error = std::isfinite(off) ? std::fmax(error, off) : std::numeric_limits<double>::max();
  }
  return at;
}

/// Where the way ended.
template <std::size_t N>
struct OdeEnd {
  double x;
  OdeState<N> y;
  bool stopped;  ///< by the event
};

/// From x0 to x1 (x1 > x0) or to where `event(x, y)` falls through zero from above, whichever comes first. `seen(x, y)`
/// is told every accepted point after the first, at most `longest` apart. Variables are to be scaled to the order of
/// one. Throws std::runtime_error if the step shrinks to nothing.
template <std::size_t N, class Slope, class Event, class Seen>
OdeEnd<N> ode_solve(const Slope& slope, double x0, OdeState<N> y, double x1, double longest, double tolerance,
                    const Event& event, const Seen& seen) {
  double x = x0, h = std::fmin(longest, 1e-6 * (x1 - x0)), error = 0.0;
  constexpr int kMostSteps = 100000;
  int steps = 0;
  while (x < x1) {
    if (h < 1e-13 * std::fmax(std::fabs(x1 - x0), std::fabs(x)) || ++steps > kMostSteps)
      throw std::runtime_error("a reference solution ran into a singular point");
    const bool last = x + h >= x1;
    const double step = last ? x1 - x : h;
    const OdeState<N> next = ode_step<N>(slope, x, y, step, error);
    if (error > tolerance) {
      h = step * std::fmax(0.2, 0.9 * std::pow(tolerance / error, 0.2));
      continue;
    }
    if (event(x + step, next) < 0.0) {
      double low = 0.0, high = step;  // the event lies between; each trial is one step from the same start
      OdeState<N> there = next;
      for (int i = 0; i < 60 && high - low > 1e-15 * std::fabs(x); ++i) {
        const double middle = 0.5 * (low + high);
        const OdeState<N> trial = ode_step<N>(slope, x, y, middle, error);
        (event(x + middle, trial) < 0.0 ? high : low) = middle;
        there = trial;
      }
      seen(x + high, there);
      return {x + high, there, true};
    }
    x = last ? x1 : x + step;
    y = next;
    seen(x, y);
    h = std::fmin(longest, step * std::fmin(3.0, 0.9 * std::pow(tolerance / std::fmax(error, 1e-3 * tolerance), 0.2)));
  }
  return {x, y, false};
}

}  // namespace pellicle::reference
