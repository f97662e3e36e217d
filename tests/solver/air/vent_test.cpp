// Does a hole pass what its mouth and its land allow, and does a volume behind it empty in the time worked by hand?
#include "solver/air/vent.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <numbers>

namespace pellicle::air {
namespace {

constexpr double kAtm_Pa = kAtmosphere_Pa, kRT = kGasConstant_J_kgK * kRoom_K;
constexpr double kLand_m = 2e-3;
constexpr Hole kPrinted{.diameter_m = 0.5e-3, .land_m = kLand_m};

double hole_m2(double d_m) { return 0.25 * std::numbers::pi * d_m * d_m; }

// Values of air tables: 1.81e-5 Pa s at 20 degC, 2.2e-5 at 110 degC (from memory). Tolerance: half the last digit.
TEST(Vent, ViscosityIsThatOfTheTables) {
  EXPECT_NEAR(viscosity_Pa_s(293.15), 1.81e-5, 0.005e-5);
  EXPECT_NEAR(viscosity_Pa_s(383.15), 2.2e-5, 0.05e-5);
}

// For a small pressure difference the gas is as good as incompressible: Q = pi d^4 dp/(128 mu L) at the mean density,
// which is exactly what (p1^2 - p2^2)/2 = p_mean dp says.
TEST(Vent, LandIsHagenPoiseuille) {
  const Hole tube{.diameter_m = 20e-6, .land_m = kLand_m};
  int checked = 0;
  for (const double dp : {1.0, 1e3, 3e5}) {
    const double mean_kg_m3 = (kAtm_Pa + 0.5 * dp) / kRT;
    const double q = std::numbers::pi * std::pow(tube.diameter_m, 4) * dp / (128.0 * viscosity_Pa_s(kRoom_K) * kLand_m);
    // round-off: 1e-16 of the pressures over their difference
    EXPECT_NEAR(laminar_kg_s(tube, kAtm_Pa + dp, kAtm_Pa, kRoom_K), mean_kg_m3 * q, 1e-10 * mean_kg_m3 * q);
    ++checked;
  }
  EXPECT_EQ(checked, 3);
  EXPECT_EQ(laminar_kg_s({.diameter_m = 1e-3}, 2.0 * kAtm_Pa, kAtm_Pa, kRoom_K),
            std::numeric_limits<double>::infinity());
}

// A tube cut into many short cylinders in series, whose resistances L/d^4 add.
TEST(Vent, TaperIsASumOfShortTubes) {
  const Hole drilled{.diameter_m = 0.4e-3, .land_m = 2e-3, .foot_m = 2e-3, .taper_m = 3e-3};
  constexpr int n = 20000;
  double sum_m = drilled.land_m;
  for (int k = 0; k < n; ++k) {
    const double d = drilled.diameter_m + (k + 0.5) / n * (drilled.foot_m - drilled.diameter_m);
    sum_m += drilled.taper_m / n * std::pow(drilled.diameter_m / d, 4);
  }
  EXPECT_NEAR(equivalent_land_m(drilled), sum_m, 1e-7 * sum_m);  // midpoint rule: order 1/n^2, derivatives about 100
  EXPECT_LT(equivalent_land_m(drilled), 1.15 * drilled.land_m);  // 3 mm of cone count as a quarter of a millimetre
  // A cone that hardly widens is a longer land.
  EXPECT_NEAR(equivalent_land_m({1e-3, 2e-3, 1e-3 * (1.0 + 1e-9), 3e-3}), 5e-3, 1e-10);
  EXPECT_EQ(equivalent_land_m({1e-3, 2e-3, 1e-3, 3e-3}), 2e-3);
}

// Between wide plates Q = t^3 w dp/(12 mu L); of a square side a, a^4 dp/(28.45 mu L) (tables of duct flow, from
// memory). Small pressures: as good as incompressible. Tolerances: the ends' 0.63 t/w of a slot of 1:1000; the table's
// digits.
TEST(Vent, SlotIsFlowBetweenPlatesAndASquareThatOfTheTables) {
  const double t = 20e-6, dp = 1.0, kg_m3 = (kAtm_Pa + 0.5 * dp) / kRT, mu = viscosity_Pa_s(kRoom_K);
  const Hole wide{.diameter_m = t, .land_m = kLand_m, .slot_m = 1000.0 * t};
  const double plates = kg_m3 * t * t * t * wide.slot_m * dp / (12.0 * mu * kLand_m);
  EXPECT_NEAR(laminar_kg_s(wide, kAtm_Pa + dp, kAtm_Pa, kRoom_K), plates, 1e-3 * plates);
  const Hole square{.diameter_m = t, .land_m = kLand_m, .slot_m = t * (1.0 + 1e-9)};
  const double duct = kg_m3 * t * t * t * t * dp / (28.45 * mu * kLand_m);
  EXPECT_NEAR(laminar_kg_s(square, kAtm_Pa + dp, kAtm_Pa, kRoom_K), duct, 1e-3 * duct);
  // Wide enough, its mouth decides: as much as the hole of the same area.
  const Hole slot{.diameter_m = 0.4e-3, .land_m = kLand_m, .slot_m = 5e-3};
  EXPECT_DOUBLE_EQ(hole_flow_kg_s(slot, 5e5, kAtm_Pa), mass_flow_kg_s(5e5, kAtm_Pa, 2e-6));
  EXPECT_NEAR(hydraulic_diameter_m(slot), 4.0 * 2e-6 / 10.8e-3, 1e-12);
  EXPECT_EQ(hydraulic_diameter_m(kPrinted), kPrinted.diameter_m);
}

TEST(Vent, WedgeIsASumOfShortSlots) {
  const Hole slot{.diameter_m = 0.4e-3, .land_m = 2e-3, .foot_m = 2e-3, .taper_m = 3e-3, .slot_m = 5e-3};
  constexpr int n = 20000;
  double sum_m = slot.land_m;
  for (int k = 0; k < n; ++k)
    sum_m += slot.taper_m / n *
             std::pow(slot.diameter_m / (slot.diameter_m + (k + 0.5) / n * (slot.foot_m - slot.diameter_m)), 3);
  EXPECT_NEAR(equivalent_land_m(slot), sum_m, 1e-7 * sum_m);  // midpoint rule, as above
}

TEST(Vent, PassesTheLeastOfMouthAndLand) {
  const double p1 = 5.0 * kAtm_Pa;
  const double cross = crossover_diameter_m(kLand_m, p1, kAtm_Pa);
  // Order of magnitude by hand: d^2 = Cd/4 0.0404/sqrt(T) 256 mu L R T/(p1 (1 - r^2)) = (0.026 mm)^2 at 5 bar absolute.
  EXPECT_NEAR(cross, 0.026e-3, 0.0005e-3);
  EXPECT_NEAR(crossover_diameter_m(kLand_m, 4.0 * kAtm_Pa, kAtm_Pa), 0.03e-3, 0.005e-3);
  const auto flow = [&](double d) { return hole_flow_kg_s({d, kLand_m}, p1, kAtm_Pa); };
  EXPECT_EQ(flow(0.9 * cross), laminar_kg_s({0.9 * cross, kLand_m}, p1, kAtm_Pa, kRoom_K));
  EXPECT_EQ(flow(1.1 * cross), mass_flow_kg_s(p1, kAtm_Pa, hole_m2(1.1 * cross)));
  EXPECT_LT(flow(0.9 * cross), mass_flow_kg_s(p1, kAtm_Pa, hole_m2(0.9 * cross)));
  EXPECT_NEAR(flow(cross * (1 - 1e-9)), flow(cross * (1 + 1e-9)), 1e-8 * flow(cross));  // continuous: slope 4/d, 2/d
  // Printed holes are orifices.
  EXPECT_EQ(hole_flow_kg_s(kPrinted, p1, kAtm_Pa), mass_flow_kg_s(p1, kAtm_Pa, hole_m2(0.5e-3)));
  EXPECT_EQ(hole_flow_kg_s(kPrinted, kAtm_Pa, kAtm_Pa), 0.0);
}

// Choked all the way: dp/dt = -(m'/p) R T p/V with m'/p constant, so t = V/(R T (m'/p)) ln(from/to), and by hand
// m'/p = Cd A 0.0404/sqrt(T1): 10 cm^3 behind 0.5 mm from 5 to 2.5 bar take 0.254 s.
TEST(Vent, ChokedEmptyingIsExponential) {
  const double v = 10e-6, per_p = 0.7 * hole_m2(0.5e-3) * 0.0404 / std::sqrt(kRoom_K);
  const double by_hand = v / (kRT * per_p) * std::log(2.0);
  EXPECT_NEAR(by_hand, 0.254, 0.0005);
  // 0.0404 has three digits
  EXPECT_NEAR(emptying_time_s(kPrinted, v, 5e5, 2.5e5), by_hand, 0.002 * by_hand);
}

/// Small explicit steps of dp = -m' R T dt/V, from `from` until `to` is passed; the last step in part.
double by_steps_s(const Hole& hole, double v_m3, double from_Pa, double to_Pa, double dt_s) {
  double t = 0.0, p = from_Pa;
  for (;;) {
    const auto fall = [&](double at) { return hole_flow_kg_s(hole, at, kAtm_Pa) * kRT / v_m3; };
    const double half = p - 0.5 * dt_s * fall(p), rate = fall(half);
    if (p - dt_s * rate <= to_Pa) return t + (p - to_Pa) / rate;
    p -= dt_s * rate;
    t += dt_s;
  }
}

TEST(Vent, EmptyingAgreesWithSmallSteps) {
  int checked = 0;
  // An orifice, a hole that is land-limited throughout, and one that passes from mouth to land on the way.
  for (const double d : {0.5e-3, 15e-6, 33e-6}) {
    const Hole hole{d, kLand_m};
    for (const double from : {5e5, 1.5e5}) {
      const double t = emptying_time_s(hole, 1e-6, from, 1.05 * kAtm_Pa);
      // midpoint steps, 4000 of them: the error of each sum is of order 1/4000^2 times the change of slope, below 1e-5
      EXPECT_NEAR(by_steps_s(hole, 1e-6, from, 1.05 * kAtm_Pa, t / 4000.0), t, 1e-5 * t) << d << " " << from;
      ++checked;
    }
  }
  EXPECT_EQ(checked, 6);
}

// Slightly above the outside the gas is as good as incompressible: m' = Cd A sqrt(2 rho dp), t = 2 V sqrt(dp) /
// (R T Cd A sqrt(2 rho)) for all but the last of it. Tolerance: dp/p = 1e-3, and what `to` leaves out, by hand.
TEST(Vent, LastOfItLeavesAsALiquidWould) {
  const double dp = 1e-3 * kAtm_Pa, last = 1e-2 * dp, rho = kAtm_Pa / kRT;
  const Hole sharp{.diameter_m = 0.5e-3};
  const double by_hand =
      2.0 * 1e-6 * (std::sqrt(dp) - std::sqrt(last)) / (kRT * 0.7 * hole_m2(0.5e-3) * std::sqrt(2.0 * rho));
  EXPECT_NEAR(emptying_time_s(sharp, 1e-6, kAtm_Pa + dp, kAtm_Pa + last), by_hand, 1e-3 * by_hand);
}

TEST(Vent, LimitsOfEmptying) {
  EXPECT_EQ(emptying_time_s(kPrinted, 1e-6, 2e5, 3e5), 0.0);
  EXPECT_EQ(emptying_time_s(kPrinted, 1e-6, 2e5, kAtm_Pa), std::numeric_limits<double>::infinity());
  // Twice the hole, a quarter of the time; twice the volume, twice the time. Round-off of the quadrature's tolerance.
  const double t = emptying_time_s(kPrinted, 1e-6, 5e5, 1.1e5);
  EXPECT_NEAR(emptying_time_s({1e-3, kLand_m}, 1e-6, 5e5, 1.1e5), 0.25 * t, 1e-8 * t);
  EXPECT_NEAR(emptying_time_s(kPrinted, 2e-6, 5e5, 1.1e5), 2.0 * t, 1e-12 * t);
}

}  // namespace
}  // namespace pellicle::air
