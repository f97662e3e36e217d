// How is a meridian carried on from one radius to the next? Shared by the free sheet and the sheet in moulds.
//
// Lengths over a chosen unit, `load` = p unit/h0 in Pa, energy over h0 unit^2.
#pragma once

#include "solver/reference/meridian.h"
#include "solver/reference/ode.h"

#include <limits>
#include <optional>

namespace pellicle::reference {

inline constexpr double kOdeTolerance = 1e-11;

/// r, z, phi, l1, volume, energy.
using Row = OdeState<6>;
enum RowName : std::size_t { kR, kZ, kPhi, kL1, kVolume, kEnergy };

/// A stretch of the meridian: free under `load`, or lying on a mould of this curvature.
struct Span {
  double load_Pa;
  std::optional<double> curvature;
};

/// Just beside the pole, by series to the second order: the equations are singular at x = 0.
struct PoleStart {
  double x;
  Row y;
};
PoleStart leave_pole(const Law& law, const Span& span, double pole_stretch);

/// Where a walk stops before its end.
using WalkEvent = std::function<double(double x, const Row& y)>;
struct Walk {
  double x;
  Row y;
  bool stopped;
  double l2() const { return y[kR] / x; }
};
/// From (x, y) to `end`, or to where `event` falls below zero. Points are at most `longest` apart and go to `points`,
/// if given, times `unit_m`.
Walk walk(const Law& law, const Span& span, double x, const Row& y, double end, const WalkEvent& event,
          double longest = std::numeric_limits<double>::infinity(), std::vector<MeridianPoint>* points = nullptr,
          double unit_m = 1.0);

}  // namespace pellicle::reference
