// Do the closed forms of the sticking sheet keep its volume? Each is integrated again by another route.
#include "solver/reference/sticking.h"

#include <gtest/gtest.h>

namespace pellicle::reference {
namespace {

// What lies on the wall and what is left in the bubble is all the sheet there was. Midpoint rule with 10^5 strips: its
// error is of the order of the strip squared, 1e-10.
TEST(Sticking, TrenchKeepsItsVolume) {
  constexpr int kStrips = 100000;
  constexpr double kDepth = 3.0;
  double wall = 0.0;
  for (int k = 0; k < kStrips; ++k) wall += trench_wall((k + 0.5) * kDepth / kStrips) * kDepth / kStrips;
  const double arc = 0.5 * std::numbers::pi * trench_wall(kDepth);  // a quarter circle of radius a on each side
  EXPECT_NEAR(wall + arc, 1.0, 1e-8);
}

TEST(Sticking, CylinderWithAnEvenBubbleKeepsItsVolume) {
  constexpr int kStrips = 100000;
  constexpr double kDepth = 3.0;
  double wall = 0.0;  // in units of pi R^2 h0
  for (int k = 0; k < kStrips; ++k)
    wall += 2.0 * cylinder_wall_even_bubble((k + 0.5) * kDepth / kStrips) * kDepth / kStrips;
  EXPECT_NEAR(wall + 2.0 * cylinder_wall_even_bubble(kDepth), 1.0, 1e-8);
}

// Large stretch, neo-Hookean: the conformal hemisphere x(rho) has area stretch (2 R a/(a^2 + rho^2))^2; its area is the
// hemisphere's, and its edge has the thickness the wall takes.
TEST(Sticking, ConformalHemisphereHasTheRightArea) {
  constexpr int kRings = 100000;
  constexpr double kFlat = 0.3;  // flat radius a of the free part, R = 1
  double area = 0.0;
  for (int k = 0; k < kRings; ++k) {
    const double rho = (k + 0.5) * kFlat / kRings, stretch = 2.0 * kFlat / (kFlat * kFlat + rho * rho);
    area += stretch * stretch * 2.0 * std::numbers::pi * rho * kFlat / kRings;
  }
  EXPECT_NEAR(area, 2.0 * std::numbers::pi, 1e-8);
  const double z = -std::log(kFlat);  // d rho/dz = -rho/R
  EXPECT_NEAR(cylinder_wall_neo_hookean(z), kFlat * kFlat, 1e-12);
}

TEST(Sticking, ConeKeepsItsVolume) {
  constexpr int kStrips = 200000;
  for (const double b : {0.5, 1.0}) {
    const double length = 0.8 / std::cos(b);  // down to a radius of a fifth of the opening
    double wall = 0.0;
    for (int k = 0; k < kStrips; ++k) {
      const double s = (k + 0.5) * length / kStrips;
      wall += 2.0 * (1.0 - s * std::cos(b)) * cone_wall_even_bubble(s, b) * length / kStrips;
    }
    // The free cap touches the wall along a circle of radius r = 0.2 and meets it tangentially: area 2 pi r^2/(1 + cos
    // b).
    const double cap = 2.0 * 0.04 / (1.0 + std::cos(b)) * cone_wall_even_bubble(length, b);
    EXPECT_NEAR(wall + cap, 1.0, 1e-7) << "wall angle " << b;
  }
}

}  // namespace
}  // namespace pellicle::reference
