// Does heat in the sheet follow the closed forms: held slab, film, touch, stretch?
#include "solver/sheet/heat.h"

#include "mesh/check.h"
#include "solver/reference/heat.h"
#include "tests/solver/sheet/heat_samples.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <numbers>

namespace pellicle::sheet {
namespace {

using reference::HalfSpaces;

/// Mean of f over a cell, by Simpson's rule on 8 pieces: exact to 1e-6 K for profiles as smooth as these.
double cell_mean(const std::vector<double>& edges, int c, const std::function<double(double)>& f) {
  const double a = edges[at(c)], width = edges[at(c + 1)] - a;
  double sum = 0.0;
  for (int k = 0; k < 8; ++k) {
    const double u = a + width * k / 8.0, step = width / 8.0;
    sum += (f(u) + 4.0 * f(u + 0.5 * step) + f(u + step)) / 48.0;
  }
  return sum;
}

double worst_error_K(const Place& place, const std::function<double(double)>& exact_K) {
  const std::vector<double> edges = heat_cell_edges(place.state.cells);
  double worst = 0.0;
  for (int c = 0; c < place.state.cells; ++c)
    worst = std::max(worst, std::fabs(place.cell_K(c) - cell_mean(edges, c, exact_K)));
  return worst;
}

double cross_s() { return kSheet_m * kSheet_m / kPolystyrene.diffusivity_m2_s(); }

/// Largest error at a few times after both faces jumped to temperatures that are held.
double held_error_K(int cells, double first_fourier) {
  Place place(cells);
  place.touch(1e9, 1e12);  // k/h is 213 W/m2K: face and gas, face and mould are as one
  place.free_side = {1e9, 350.0};
  double worst = 0.0, done = 0.0;
  for (double fourier = first_fourier; fourier < 0.6; fourier *= 2.0) {
    place.steps(50, (fourier - done) * cross_s() / 50.0);
    done = fourier;
    worst = std::max(worst, worst_error_K(place, [&](double s) {
                       return reference::slab_held(s, fourier, kHot_K, kMould_K, 350.0);
                     }));
  }
  return worst;
}

TEST(Heat, SlabWithHeldFaces) {
  // Of 115 K, after a twentieth of the time heat needs across: the error of the mesh, which falls with its square.
  const double eight = held_error_K(8, 0.05), sixteen = held_error_K(16, 0.05);
  EXPECT_LT(sixteen, 0.8);
  const double order = std::log2(eight / sixteen);
  RecordProperty("held_error_16_cells_K", std::to_string(sixteen));
  RecordProperty("order_in_cells", std::to_string(order));
  EXPECT_GT(order, 1.8) << eight << ' ' << sixteen;
  EXPECT_LT(order, 2.4) << eight << ' ' << sixteen;
}

TEST(Heat, SlabWithFilm) {
  int checked = 0;
  for (const double biot : {0.1, 0.5, 2.0}) {
    Place place;
    place.free_side = {biot * kPolystyrene.conductivity_W_mK / kSheet_m, 293.15};
    double done = 0.0;
    for (const double fourier : {0.1, 0.3, 1.0, 3.0}) {
      place.steps(100, (fourier - done) * cross_s() / 100.0);
      done = fourier;
      const double error =
          worst_error_K(place, [&](double s) { return 293.15 + 120.0 * reference::slab_film(s, fourier, biot); });
      // Error of twelve cells, of 120 K: it goes with biot. Films of gases lie below biot = 0.7 (150 W/m2K).
      EXPECT_LT(error, biot > 1.0 ? 0.6 : 0.15) << biot << ' ' << fourier;
      ++checked;
    }
  }
  EXPECT_EQ(checked, 12);
}

struct Touch {
  double effusivity, conductance;
};
const std::vector<Touch> kTouches{{kResin, 500.0},     {kResin, 1000.0},     {kResin, 3000.0},
                                  {kAluminium, 500.0}, {kAluminium, 1000.0}, {kAluminium, 3000.0}};

// The sheet is a half-space until its free side feels the touch: 0.3 s is a twentieth of the time heat needs across.
TEST(Heat, FirstTouchFollowsTheHalfSpaces) {
  int checked = 0;
  for (const int cells : {12, 16}) {
    // Of 115 K. The first of 12 cells is 7 um wide and needs 0.6 ms to see the jump; the time steps may add 0.2 K. The
    // worst is aluminium at 3000 W/m2K: 0.96 K after 1 ms, 0.67 K from 5 ms on; on resin at 1000 it is half of that.
    const double early_K = cells == 12 ? 1.0 : 0.6, later_K = cells == 12 ? 0.7 : 0.4;
    for (const Touch& touch : kTouches) {
      const HalfSpaces exact{kPolystyrene.effusivity_Ws05_m2K(), touch.effusivity, kHot_K, kMould_K, touch.conductance};
      Place place(cells);
      place.touch(touch.conductance, touch.effusivity);
      for (int k = 1; k <= 300; ++k) {
        place.step(1e-3);
        const double t_s = 1e-3 * k, limit_K = k < 5 ? early_K : later_K;
        EXPECT_NEAR(place.face_K(), exact.surface1_K(t_s), limit_K) << touch.effusivity << ' ' << touch.conductance;
        EXPECT_NEAR(place.mould_face_K(), exact.surface2_K(t_s), limit_K) << touch.conductance << ' ' << k;
        ++checked;
      }
      // Errors of the surfaces over their difference, which drives the heat.
      EXPECT_NEAR(place.state.to_mould_J_m2[0][0] / exact.passed_J_m2(0.3), 1.0, 0.01) << touch.conductance;
    }
  }
  EXPECT_EQ(checked, 3600);
}

// Two bars in perfect contact: (e1 T1 + e2 T2)/(e1 + e2) at the joint for all times, and an error function on each side
// (Carslaw & Jaeger 1959, 2.15, from memory). 1e7 W/m2K is perfect after microseconds.
TEST(Heat, BarOfTwoMaterials) {
  const double e = kPolystyrene.effusivity_Ws05_m2K();
  for (const double mould : {kResin, 780.0, kAluminium}) {
    const double joint_K = (e * kHot_K + mould * kMould_K) / (e + mould);
    Place place;
    place.touch(1e7, mould);
    place.steps(40, 5e-3);
    EXPECT_NEAR(place.face_K(), joint_K, 0.5) << mould;  // the chain's 0.4 % of at most 112 K
    EXPECT_NEAR(place.mould_face_K(), joint_K, 0.5) << mould;
    const double reach = 2.0 * std::sqrt(kPolystyrene.diffusivity_m2_s() * 0.2) / kSheet_m;
    EXPECT_LT(worst_error_K(place, [&](double s) { return joint_K + (kHot_K - joint_K) * std::erf(s / reach); }), 1.0)
        << mould;
  }
}

// The table of facts: polystyrene at 140 °C (cp 1800 J/kgK, effusivity 532 by hand) on a mould at 25 °C comes to 72 to
// 80 °C on resin and 28 °C on aluminium.
TEST(Heat, ResinHoldsTheSkinHotterThanAluminium) {
  Place resin, metal;
  resin.touch(1e7, kResin);
  metal.touch(1e7, kAluminium);
  resin.steps(20, 5e-3), metal.steps(20, 5e-3);
  EXPECT_GT(resin.face_K() - metal.face_K(), 40.0);
  EXPECT_GT(resin.face_K() - 273.15, 72.0);
  EXPECT_LT(resin.face_K() - 273.15, 82.0);
  EXPECT_NEAR(metal.face_K() - 273.15, 28.0, 1.0);
}

/// Linear between the faces at the start, no flux through them: Fourier series of the ramp.
double insulated_K(double s, double fourier, double low, double high) {
  double T = 0.5 * (low + high);
  for (int n = 1; n < 60; n += 2) {
    const double k = n * std::numbers::pi;
    T -= 4.0 * (high - low) / (k * k) * std::cos(k * s) * std::exp(-k * k * fourier);
  }
  return T;
}

// At a constant Hencky rate r the thickness is h0 exp(-r t), and heat in s = z/h sees the time
// tau = int alpha/h^2 dt = alpha/h0^2 (exp(2 r t) - 1)/(2 r): the same profile as unstretched at that time.
TEST(Heat, StretchIsAChangeOfTime) {
  const double rate = 3.0, dt_s = 0.02, a = 390.0, b = 430.0;
  const StartTemperature ramp = [=](const Vec2&) { return FaceTemperatures{a, b}; };
  Place stretched(12, ramp), still(12, ramp);
  for (int k = 1; k <= 20; ++k) {
    stretched.thickness_m[0] = kSheet_m * std::exp(-rate * dt_s * k);
    stretched.step(dt_s);
    const double tau = std::expm1(2.0 * rate * dt_s * k) / (2.0 * rate) / cross_s();
    const double before = std::expm1(2.0 * rate * dt_s * (k - 1)) / (2.0 * rate) / cross_s();
    still.step((tau - before) * cross_s());
    // Simpson's rule in ln h adds 1e-5 of 40 K; the thickness at the end of each step would be 0.4 K off.
    const double steps_K = stretched.state.time_error_K[0] + still.state.time_error_K[0];
    ASSERT_LT(steps_K, 0.15);
    for (int c = 0; c < 12; ++c) ASSERT_NEAR(stretched.cell_K(c), still.cell_K(c), steps_K + 1e-3) << k << ' ' << c;
    if (k % 5 == 0) {
      EXPECT_LT(worst_error_K(stretched, [&](double s) { return insulated_K(s, tau, a, b); }), 0.15) << k;
    }
  }
  EXPECT_NEAR(mean_K(stretched.state, 0), 410.0, 1e-9);
  EXPECT_GT(stretched.cell_K(0), 391.5) << "the ramp has begun to even out";
}

// So good a conductor that it has one temperature: dT/dt = -film (T - gas)/(rho cp h(t)), h = h0 exp(-r t).
TEST(Heat, AFilmCoolsAThinningSheetFaster) {
  const double rate = 3.0, dt_s = 0.02, film_W_m2K = 100.0, gas_K = 300.0;
  const HeatMaterial conductor{1e3, 1800.0, 1040.0};
  const std::vector<Vec2> one(1, Vec2::Zero());
  HeatState s = hot_sheet(conductor, 12, one, kSheet_m, evenly(kHot_K), kMould_K);
  const std::vector<double> open(1, 0.0);
  std::vector<double> thickness_m(1);
  for (int k = 1; k <= 20; ++k) {
    thickness_m[0] = kSheet_m * std::exp(-rate * dt_s * k);
    exchange_heat(s, {dt_s, thickness_m, open, open, 1000.0, {film_W_m2K, gas_K}, {}});
  }
  const double over_h = std::expm1(rate * 0.4) / (rate * kSheet_m);
  const double exact_K = gas_K + (kHot_K - gas_K) * std::exp(-film_W_m2K / (1800.0 * 1040.0) * over_h);
  EXPECT_LT(exact_K, kHot_K - 5.0);
  // film h/k = 1e-4 of it is not quite one temperature; the thickness at the end of each step would be 0.18 K off.
  EXPECT_NEAR(mean_K(s, 0), exact_K, 0.01);
}

TEST(Heat, RefusesWhatIsNone) {
  const std::vector<Vec2> one(1, Vec2::Zero());
  EXPECT_THROW(hot_sheet({0.0, 1800.0, 1040.0}, 12, one, 1e-3, evenly(400.0), 300.0), Error);
  EXPECT_THROW(hot_sheet(kPolystyrene, 7, one, 1e-3, evenly(400.0), 300.0), Error);
  EXPECT_THROW(hot_sheet(kPolystyrene, 17, one, 1e-3, evenly(400.0), 300.0), Error);
  EXPECT_THROW(hot_sheet(kPolystyrene, 12, one, -1e-3, evenly(400.0), 300.0), Error);
  EXPECT_THROW(hot_sheet(kPolystyrene, 12, one, 1e-3, evenly(-1.0), 300.0), Error);
  Place place;
  EXPECT_THROW(place.step(0.0), Error);
  place.thickness_m[0] = std::nan("");
  EXPECT_THROW(place.step(1e-3), Error);
  place.thickness_m[0] = kSheet_m;
  place.touch(1000.0, 0.0);
  EXPECT_THROW(place.step(1e-3), Error);
  place.touch(-1.0, kResin);
  EXPECT_THROW(place.step(1e-3), Error);
  place.touch(1000.0, kResin);
  place.state.sheet_K[7].setConstant(std::nan(""));
  try {
    place.step(1e-3);
    FAIL() << "no part of a step can be accurate";
  } catch (const Error& error) {
    EXPECT_EQ(error.fault().kind, Fault::Kind::kSolution);
  }
}

TEST(Heat, StartsFromAMap) {
  const TemperatureMap map{{0.0, 0.0}, 0.1, 2, 3, {400.0, 410.0, 420.0, 430.0, 440.0, 450.0}};
  map.check();
  const auto at_K = [&](double x, double y) { return map({x, y}).mould_side_K; };
  EXPECT_DOUBLE_EQ(at_K(0.0, 0.0), 400.0);
  EXPECT_DOUBLE_EQ(at_K(0.1, 0.2), 450.0);
  EXPECT_NEAR(at_K(0.05, 0.05), 415.0, 1e-9);  // mean of the four around
  EXPECT_NEAR(at_K(0.03, 0.15), 433.0, 1e-9);  // linear along x and y
  EXPECT_DOUBLE_EQ(at_K(-1.0, 9.0), 440.0);    // beyond the edge as at the edge
  const std::vector<Vec2> places{{0.0, 0.0}, {0.1, 0.2}};
  const HeatState s = hot_sheet(kPolystyrene, 8, places, kSheet_m, map, kMould_K);
  EXPECT_NEAR(mean_K(s, 0), 400.0, 1e-9);
  EXPECT_NEAR(mean_K(s, 1), 450.0, 1e-9);
  EXPECT_THROW((TemperatureMap{{0.0, 0.0}, 0.1, 2, 3, {400.0}}.check()), Error);
  EXPECT_THROW((TemperatureMap{{0.0, 0.0}, 0.1, 2, 2, {400.0, -1.0, 400.0, 400.0}}.check()), Error);

  const Place two(12, [](const Vec2&) { return FaceTemperatures{390.0, 430.0}; });
  EXPECT_NEAR(mean_K(two.state, 0), 410.0, 1e-9);  // a line through the middles of cells keeps its mean
  EXPECT_LT(two.cell_K(0), two.cell_K(11));
}

}  // namespace
}  // namespace pellicle::sheet
