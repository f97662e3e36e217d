// Is the depth in a stroke that of the slot table, corrected for depth, and the shallower of both ways?
#include "solver/imprint/screening.h"

#include <gtest/gtest.h>

#include <algorithm>

namespace pellicle::imprint {
namespace {

constexpr double kModulus_Pa = 0.4e6, kThickness_m = 0.5e-3;

/// d_lin of a depth that has been corrected, docs/theory/screening.md eq. 3.
double linear_m(double depth_m, double width_m) {
  return depth_m / (1.0 - depth_correction(width_m / kThickness_m) * depth_m / width_m);
}
double depth_m(double width_m, double l1, double l2, double pressure_Pa) {
  return stroke_depth_m(width_m, kThickness_m, l1, l2, kModulus_Pa, pressure_Pa);
}

TEST(Screening, StrokeIsAsDeepAsPhiSaysUnstretchedAndAtEqualStretch) {
  struct Known {
    double ratio, phi, part;  // part of phi at 1.5 both ways
  };
  // Values of the one-dimensional press, good to 0.8 % (docs/theory/press.md).
  for (const Known k : {Known{0.25, 1.019, 0.751}, {1.0, 1.301, 0.613}, {2.0, 2.282, 0.404}, {4.0, 6.77, 0.192}}) {
    const double w = k.ratio * kThickness_m, p = 0.1e6, unit_m = p * w / (4.0 * kModulus_Pa);
    EXPECT_NEAR(linear_m(depth_m(w, 1.0, 1.0, p), w), k.phi * unit_m, 0.008 * k.phi * unit_m) << k.ratio;
    EXPECT_NEAR(linear_m(depth_m(w, 1.5, 1.5, p), w), k.part * k.phi * unit_m, 0.012 * k.part * k.phi * unit_m);
  }
}

TEST(Screening, TheShallowerOfBothWaysCountsAndStretchNeverDeepens) {
  for (const double w : {0.2e-3, 0.5e-3, 1.0e-3}) {
    EXPECT_EQ(depth_m(w, 2.0, 1.2, 0.3e6), depth_m(w, 1.2, 2.0, 0.3e6));
    EXPECT_LT(depth_m(w, 2.0, 1.2, 0.3e6), depth_m(w, 1.2, 1.2, 0.3e6));
    EXPECT_LT(depth_m(w, 1.2, 1.2, 0.3e6), depth_m(w, 1.0, 1.0, 0.3e6));
  }
}

TEST(Screening, GoesOnBeyondTheTable) {
  // Up to and past across^2 along = 64; the limit of a membrane is off by less than the table there.
  const double below = depth_m(1e-3, 3.99, 3.99, 0.3e6), above = depth_m(1e-3, 4.01, 4.01, 0.3e6);
  EXPECT_LT(above, below);
  EXPECT_NEAR(above, below, 0.05 * below);  // r grows by 1.5 %, the stiffness by its square
  double last = depth_m(1e-3, 3.9, 3.9, 0.3e6);
  for (double l = 3.9; l < 30.0; l *= 1.0037) {
    const double now = depth_m(1e-3, l, l, 0.3e6);
    ASSERT_LE(now, last) << l;
    last = now;
  }
  EXPECT_GT(depth_m(1e-3, 8.0, 8.0, 0.3e6), 0.0);
  EXPECT_LT(depth_m(1e-3, 8.0, 8.0, 0.3e6), 0.1 * below);
}

}  // namespace
}  // namespace pellicle::imprint
