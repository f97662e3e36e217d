// Does the throat pass what compressible flow says, choked and not, without a step between the two?
#include "solver/air/throat.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

namespace pellicle::air {
namespace {

constexpr double kBar_Pa = 1e5;

double hole_m2(double diameter_m) { return 0.25 * std::numbers::pi * diameter_m * diameter_m; }

double critical_ratio() { return std::pow(2.0 / (kHeatRatio + 1.0), kHeatRatio / (kHeatRatio - 1.0)); }

/// The same flow by way of the Mach number in the throat: r = (1 + (g-1)/2 M^2)^(-g/(g-1)),
/// m' = Cd A p1 sqrt(g/(R T1)) M (1 + (g-1)/2 M^2)^(-(g+1)/(2(g-1))). Any text on compressible flow.
double by_mach_kg_s(double p1_Pa, double p2_Pa, double area_m2, double temperature_K, double discharge) {
  constexpr double g = kHeatRatio;
  const double mach = std::sqrt(2.0 / (g - 1.0) * (std::pow(p2_Pa / p1_Pa, -(g - 1.0) / g) - 1.0));
  const double total = 1.0 + 0.5 * (g - 1.0) * mach * mach;
  return discharge * area_m2 * p1_Pa * std::sqrt(g / (kGasConstant_J_kgK * temperature_K)) * mach *
         std::pow(total, -0.5 * (g + 1.0) / (g - 1.0));
}

TEST(Throat, ChokedFlowHasTheConstantOfAir) {
  constexpr double kDigits = 0.00005 / 0.0404;  // the published constant has three digits
  const double area = hole_m2(1e-3);
  int checked = 0;
  for (const double p1 : {1.2 * kBar_Pa, 5.0 * kBar_Pa}) {
    for (const double p2 : {0.01 * p1, 0.3 * p1, 0.52 * p1}) {
      for (const double t1 : {273.15, 393.15}) {
        const double expected = 0.7 * area * p1 * 0.0404 / std::sqrt(t1);
        EXPECT_NEAR(mass_flow_kg_s(p1, p2, area, t1, 0.7), expected, kDigits * expected);
        ++checked;
      }
    }
  }
  EXPECT_EQ(checked, 12);  // an empty loop must not pass
}

TEST(Throat, ChokedFlowDoesNotSeeWhatIsDownstream) {
  EXPECT_EQ(mass_flow_kg_s(5e5, 1e5, 1e-6), mass_flow_kg_s(5e5, 2.6e5, 1e-6));
}

TEST(Throat, UnchokedFlowMatchesTheOneByMachNumber) {
  int checked = 0;
  for (const double r : {0.53, 0.6, 0.75, 0.9, 0.99, 0.9999}) {
    const double p1 = 4.0 * kBar_Pa, expected = by_mach_kg_s(p1, r * p1, 2e-6, 300.0, 0.65);
    // Both subtract numbers that agree to 1 - r: round-off 1e-16 / 1e-4, under the root half of it.
    EXPECT_NEAR(mass_flow_kg_s(p1, r * p1, 2e-6, 300.0, 0.65), expected, 1e-11 * expected) << r;
    ++checked;
  }
  EXPECT_EQ(checked, 6);
}

TEST(Throat, FlowIsContinuousWhereItChokes) {
  const double p1 = 3.0 * kBar_Pa, r = critical_ratio();
  EXPECT_NEAR(r, 0.528, 0.0005);  // to the digits of the published ratio
  // The flow is largest at the critical ratio, so it changes by the square of the distance from it: 1e-12.
  const double below = mass_flow_kg_s(p1, (r - 1e-6) * p1, 1e-6), above = mass_flow_kg_s(p1, (r + 1e-6) * p1, 1e-6);
  EXPECT_NEAR(below, above, 1e-11 * below);
}

TEST(Throat, NothingFlowsBetweenEqualPressures) {
  EXPECT_EQ(mass_flow_kg_s(2e5, 2e5, 1e-6), 0.0);
  EXPECT_GT(mass_flow_kg_s(2e5, 1.9999e5, 1e-6), 0.0);
}

TEST(Throat, FallsAsTheBackPressureRises) {
  double last = mass_flow_kg_s(4e5, critical_ratio() * 4e5, 1e-6);
  int checked = 0;
  for (double r = 0.55; r < 1.0; r += 0.05) {
    const double flow = mass_flow_kg_s(4e5, r * 4e5, 1e-6);
    EXPECT_LT(flow, last);
    last = flow;
    ++checked;
  }
  EXPECT_GE(checked, 9);
}

// A hole of 0.5 mm with Cd 0.7 passes 0.027 L/s of free air from 1 bar, 0.11 L/s from 4 bar, absolute (worked by hand
// from the choked formula). Tolerance: half the last digit given.
TEST(Throat, APrintedVentPassesWhatTheHandCalculationSays) {
  const double per_litre = kAtmosphere_Pa / (kGasConstant_J_kgK * kRoom_K) * 1e-3;  // kg in a litre of free air
  EXPECT_NEAR(mass_flow_kg_s(1.0 * kBar_Pa, 1.0, hole_m2(0.5e-3), kRoom_K, 0.7) / per_litre, 0.027, 0.0005);
  EXPECT_NEAR(mass_flow_kg_s(4.0 * kBar_Pa, 1.0, hole_m2(0.5e-3), kRoom_K, 0.7) / per_litre, 0.11, 0.005);
}

}  // namespace
}  // namespace pellicle::air
