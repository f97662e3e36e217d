// Does a throat fill a space in the time worked by hand, choked, not choked and behind a sheet that gives way?
#include "solver/air/filling.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

namespace pellicle::air {
namespace {

constexpr double kBar_Pa = 1e5, kRT = kGasConstant_J_kgK * kRoom_K;

double hole_m2(double d_m) { return 0.25 * std::numbers::pi * d_m * d_m; }

/// 0.3 L at rest behind 3 mm, 4 bar gauge.
Filling rigid(double to_Pa) {
  return {.supply_Pa = 5.01325 * kBar_Pa,
          .from_Pa = kAtmosphere_Pa,
          .to_Pa = to_Pa,
          .throat_m = 3e-3,
          .volume_from_m3 = 0.3e-3,
          .volume_to_m3 = 0.3e-3};
}

// Choked all the way: mass over flow, by hand m' = Cd A p1 0.0404/sqrt(T1) = 8.47e-3... kg/s: 1 to 2.5 bar absolute.
TEST(Filling, ChokedIsMassOverFlow) {
  const double flow = 0.7 * hole_m2(3e-3) * 5.01325 * kBar_Pa * 0.0404 / std::sqrt(kRoom_K);
  const double by_hand = (2.5 * kBar_Pa - kAtmosphere_Pa) * 0.3e-3 / (kRT * flow);
  EXPECT_NEAR(flow, 5.85e-3, 0.01e-3);
  EXPECT_NEAR(filling_time_s(rigid(2.5 * kBar_Pa)), by_hand, 0.002 * by_hand);  // 0.0404 has three digits
  Filling no_heat = rigid(2.5 * kBar_Pa);
  no_heat.adiabatic = true;
  EXPECT_NEAR(filling_time_s(no_heat), by_hand / 1.4, 0.002 * by_hand);  // p V = (gamma - 1) U, enthalpy comes in
}

/// Midpoint steps of dp = gamma' R T m' dt/V.
double by_steps_s(const Filling& f, int steps, double about_s) {
  const double dt = about_s / steps, v = f.volume_to_m3, factor = f.adiabatic ? kHeatRatio : 1.0;
  const auto rise = [&](double p) {
    return factor * kRT / v * mass_flow_kg_s(f.supply_Pa, p, hole_m2(f.throat_m), kRoom_K, f.discharge);
  };
  double p = f.from_Pa, t = 0.0;
  for (;;) {
    const double rate = rise(p + 0.5 * dt * rise(p));
    if (p + dt * rate >= f.to_Pa) return t + (f.to_Pa - p) / rate;
    p += dt * rate, t += dt;
  }
}

TEST(Filling, UnchokedAgreesWithSmallSteps) {
  int checked = 0;
  for (const bool adiabatic : {false, true})
    for (const double from : {kAtmosphere_Pa, 3.5 * kBar_Pa}) {  // choked at first; never
      Filling f = rigid(kAtmosphere_Pa + 3.6 * kBar_Pa);
      f.from_Pa = from, f.adiabatic = adiabatic;
      const double t = filling_time_s(f);
      EXPECT_NEAR(by_steps_s(f, 4000, t), t, 1e-5 * t);  // midpoint rule: order 1/4000^2, and the kink at choking
      ++checked;
    }
  EXPECT_EQ(checked, 4);
  EXPECT_NEAR(filling_time_s(rigid(kAtmosphere_Pa + 3.6 * kBar_Pa)), 0.24, 0.02);  // as the theory page says
}

// Choked, the sheet's sweep costs its mass at the pressure it gives way at: 60 cm^3 at 1 bar, and then pressure in it.
TEST(Filling, SweepIsMassOverFlowToo) {
  Filling f = rigid(2.5 * kBar_Pa);
  f.volume_to_m3 += 60e-6;
  const double flow = mass_flow_kg_s(f.supply_Pa, f.from_Pa, hole_m2(f.throat_m));
  const double mass = (f.to_Pa * f.volume_to_m3 - f.from_Pa * f.volume_from_m3) / kRT;
  EXPECT_NEAR(filling_time_s(f), mass / flow, 1e-12 * mass / flow);  // round-off: the same numbers in another order
}

TEST(Filling, ThroatForATimeTakesIt) {
  Filling f = rigid(kAtmosphere_Pa + 3.6 * kBar_Pa);
  f.throat_m = throat_for_m(f, 0.1);
  EXPECT_NEAR(filling_time_s(f), 0.1, 1e-9);  // the quadrature's 1e-10
  EXPECT_GT(f.throat_m, 3e-3);
}

}  // namespace
}  // namespace pellicle::air
