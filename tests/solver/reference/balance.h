// Does a meridian hold together? Checks that use none of the equations it was found with.
#pragma once

#include "solver/reference/meridian.h"

#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <numbers>
#include <string>

namespace pellicle::reference {

/// Material is kept, the clamp is where it should be, points are in order; slope agrees with the way from point to
/// point. Straight lines between 500 points: 1e-5 of each.
inline void expect_whole(const Meridian& m, const ClampedDisc& disc, const std::string& what) {
  ASSERT_GT(m.points.size(), 100U) << what;
  const double a = disc.radius_m, h0 = disc.thickness_m;
  double material = 0.0;
  for (std::size_t i = 1; i < m.points.size(); ++i) {
    const MeridianPoint &p = m.points[i - 1], &q = m.points[i];
    ASSERT_GE(q.flat_m, p.flat_m) << what;
    const double ds = std::hypot(q.r_m - p.r_m, q.z_m - p.z_m);
    // Volume of the deformed ring: area times thickness.
    material += std::numbers::pi * (p.r_m + q.r_m) * ds * 0.5 * (p.thickness() + q.thickness()) * h0;
  }
  const double bought = std::numbers::pi * a * a * h0;
  EXPECT_NEAR(material, bought, 2e-4 * bought) << what;
  const MeridianPoint& rim = m.points.back();
  EXPECT_NEAR(rim.flat_m, a, 1e-9 * a) << what;
  EXPECT_NEAR(rim.r_m, a, 1e-4 * a) << what;
  EXPECT_NEAR(rim.z_m, m.height_m, 1e-6 * a) << what;
}

/// Virtual work: dE = p dV from one state to the next, whatever the sheet touches, since neither a frictionless mould
/// nor landing without sliding takes energy. Trapezoid between two states: third order in their distance.
inline void expect_work(const Meridian& m, const Meridian& next, double tolerance, const std::string& what) {
  const double dV = next.volume_m3 - m.volume_m3, dE = next.strain_energy_J - m.strain_energy_J;
  ASSERT_GT(std::fabs(dV), 0.0) << what;
  const double p = 0.5 * (m.pressure_Pa + next.pressure_Pa);
  EXPECT_NEAR(dE / dV, p, tolerance * p) << what;
}

/// Tensions of the stretched sheet [N/m].
inline double tension_1(const ClampedDisc& d, const MeridianPoint& p) {
  return d.thickness_m * d.law(p.l1, p.l2).w1_Pa / p.l2;
}
inline double tension_2(const ClampedDisc& d, const MeridianPoint& p) {
  return d.thickness_m * d.law(p.l1, p.l2).w2_Pa / p.l1;
}

}  // namespace pellicle::reference
