// Does a mould of cells warm as known bodies do, and does its periodic state repeat itself with heat in balance?
#include "solver/mould/body_heat.h"

#include "mesh/check.h"
#include "mesh/nearest.h"
#include "mesh/shapes.h"

#include <gtest/gtest.h>
#include <omp.h>

#include <algorithm>
#include <cmath>
#include <cstring>
#include <numbers>
#include <string>
#include <utility>
#include <vector>

namespace pellicle::mould {
namespace {

using mesh::TriangleMesh;
constexpr double kCelsius = 273.15;
constexpr Conductor kResin{0.25, 1180.0 * 1400.0};

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// Of the triangles that have a peak.
double hottest_K(const HeatResult& r) {
  double most = 0.0;
  for (const double peak : r.peak_K) most = std::fmax(most, peak);
  return most;
}

mesh::Voxels cells_of(const TriangleMesh& m, double cell_m) {
  mesh::VoxelOptions o;
  o.cell_m = cell_m;
  return voxels_of(mesh::Nearest(m), o);
}

bool faces_up(const TriangleMesh& m, int t) {
  const mesh::Triangle& c = m.triangles[at(t)];
  const Vec3 &a = m.points_m[at(c[0])], &b = m.points_m[at(c[1])], &d = m.points_m[at(c[2])];
  return (b - a).cross(d - a).z() > 0.0;
}

/// A column that only its top and its foot exchange heat through.
struct Column {
  TriangleMesh mesh;
  BodyHeat heat;
  HeatPhase phase(double duration_s, int steps, const Exchange& top) const {
    return {duration_s, steps, [this, top](int t) { return faces_up(mesh, t) ? top : Exchange{}; }};
  }
  /// Temperature by height.
  std::vector<double> profile(const std::vector<double>& node_K) const {
    std::vector<double> t;
    for (int n = 0; n < heat.solid().grid.nodes(); ++n) {
      const auto [i, j, k] = heat.solid().grid.where(heat.solid().grid.place[at(n)]);
      if (i == 0 && j == 0) t.push_back(node_K[at(n)]);
    }
    return t;
  }
};

Column column(double height_m, double cell_m, const HeatOptions& options) {
  TriangleMesh m = mesh::box({0, 0, 0}, {0.002, 0.002, height_m});
  BodyHeat heat(m, cells_of(m, cell_m), options);
  return {std::move(m), std::move(heat)};
}

HeatOptions resin() {
  HeatOptions o;
  o.shell = kResin;
  return o;
}

// Half-space whose surface is held at a temperature from t = 0: T = T1 erfc(z/(2 sqrt(a t))) (Carslaw & Jaeger,
// Conduction of Heat in Solids, 2.4). Held by a film of 1e6 W/m2K.
TEST(BodyHeat, WarmsAsAHalfSpaceDoes) {
  const auto worst = [](double cell_m, int steps) {
    const Column c = column(0.02, cell_m, resin());
    const HeatResult r = c.heat.after({c.phase(30.0, steps, {1e6, 293.15 + 100.0})}, 1);
    const std::vector<double> t = c.profile(r.node_K);
    const double alpha = kResin.conductivity_W_mK / kResin.capacity_J_m3K;
    double off = 0.0;
    for (std::size_t k = 0; k < t.size(); ++k) {
      const double z = 0.02 - static_cast<double>(k) * cell_m;
      off = std::max(off, std::abs(t[k] - 293.15 - 100.0 * std::erfc(z / (2.0 * std::sqrt(alpha * 30.0)))));
    }
    return off;  // of 100 K; the warm depth sqrt(alpha t) is 2.1 mm
  };
  const double few = worst(0.0005, 12), many = worst(0.0005, 48);
  RecordProperty("12_steps_K", std::to_string(few));
  RecordProperty("48_steps_K", std::to_string(many));
  EXPECT_LT(few, 3.0);   // Euler's rule in 12 steps
  EXPECT_LT(many, 0.9);  // falls with their number
  EXPECT_LT(many, 0.4 * few);
  EXPECT_LT(worst(0.002, 48), 6.0);  // a cell of the warm depth
}

// A film on top, a film to the platform: resistances in a row, and the heat that goes through.
TEST(BodyHeat, ConductsSteadilyThroughAColumn) {
  HeatOptions o = resin();
  o.base_film_W_m2K = 500.0, o.settled_K = 0.005;
  const Column c = column(0.01, 0.0005, o);
  const HeatResult r = c.heat.periodic({c.phase(20.0, 4, {80.0, kCelsius + 120.0})});
  const double flux = (kCelsius + 120.0 - 293.15) / (1.0 / 80.0 + 0.01 / 0.25 + 1.0 / 500.0);
  const std::vector<double> t = c.profile(r.node_mean_K);
  EXPECT_NEAR(t.front(), 293.15 + flux / 500.0, 0.01);  // settled to 0.005 K
  EXPECT_NEAR(t.back(), kCelsius + 120.0 - flux / 80.0, 0.01);
  EXPECT_NEAR(r.phase_heat_J[0], flux * 4e-6 * 20.0, 0.002 * flux * 4e-6 * 20.0);
  EXPECT_NEAR(r.base_heat_J, -r.phase_heat_J[0], 1e-3 * r.phase_heat_J[0]);
  EXPECT_NEAR(hottest_K(r), t.back(), 0.01);
}

// A sheet that holds s J/m2K against a thick mould of e W s^0.5/m2K through a good film gives all its heat at last; and
// what it gives is what the mould gets.
TEST(BodyHeat, ASheetGivesNoMoreThanItHolds) {
  const Column c = column(0.01, 0.0005, resin());
  const double store = 1050.0 * 1800.0 * 0.75e-3;
  const HeatResult r = c.heat.after({c.phase(4000.0, 60, {1000.0, 293.15 + 110.0, store})}, 1);
  // Both end at the mean by heat capacity: mould 0.01 m of it. 4000 s are 6 of L^2/alpha.
  const double mould = 0.01 * kResin.capacity_J_m3K, end_K = 110.0 * store / (store + mould);
  for (const double t : r.node_K) EXPECT_NEAR(t, 293.15 + end_K, 0.02);
  EXPECT_NEAR(r.phase_heat_J[0], end_K * mould * 4e-6, 1e-3 * end_K * mould * 4e-6);
  EXPECT_NEAR(r.stored_J, r.phase_heat_J[0], 1e-6 * r.stored_J);
  EXPECT_GT(hottest_K(r), 293.15 + 1.5 * end_K);  // the surface was hotter once
}

// A thin plate, warm through at once, under a sheet that also loses heat to the gas beyond: two stores in a row,
//   c1 T1' = f (T2 - T1),  c2 T2' = -f (T2 - T1) - l (T2 - Tg),
// followed here by Euler's rule in 100,000 steps.
TEST(BodyHeat, ASheetLosesHeatOnItsFarSideToo) {
  HeatOptions o = resin();
  o.shell.conductivity_W_mK = 50.0;  // warm through: film thickness/conductivity = 0.01
  const Column c = column(0.001, 0.0005, o);
  const double f = 500.0, l = 60.0, store = 1400.0, mould = 0.001 * kResin.capacity_J_m3K, gas_K = 293.15;
  Exchange e{f, kCelsius + 140.0, store};
  e.loss_W_m2K = l, e.far_K = gas_K;
  const HeatResult r = c.heat.after({c.phase(20.0, 200, e)}, 1);
  double t1 = 293.15, t2 = kCelsius + 140.0, hottest = t1;
  for (int i = 0; i < 100000; ++i) {
    const double dt = 20.0 / 100000, q = f * (t2 - t1);
    t1 += dt * q / mould;
    t2 -= dt * (q + l * (t2 - gas_K)) / store;
    hottest = std::max(hottest, t1);
  }
  // 200 steps of first order, the shortest 5e-4 s, 0.2 s at the end against a time of 2 s: half a percent of 60 K.
  for (const double t : r.node_K) EXPECT_NEAR(t, t1, 0.3);
  EXPECT_GT(hottest, t1 + 5.0);  // it cooled again: that is what the far side does
  const double peak_K = *std::max_element(r.node_peak_K.begin(), r.node_peak_K.end());
  EXPECT_NEAR(peak_K, hottest, 0.5);
  // What the averaged exchange makes of it: a cycle alone, forever, brings all to the gas.
  EXPECT_NEAR(c.heat.steady_mean_K({c.phase(20.0, 8, {0.0, 300.0}), c.phase(2000.0, 8, {f, 320.0})}), 320.0, 0.01);
}

TEST(BodyHeat, TrianglesOnTheFloorHaveNoPeak) {
  const TriangleMesh m = mesh::box({0, 0, 0}, {0.01, 0.01, 0.01});
  const BodyHeat heat(m, cells_of(m, 0.001), resin());
  const HeatResult r = heat.after({{10.0, 4, [](int) { return Exchange{20.0, 330.0}; }}}, 3);
  int floor = 0;
  for (int t = 0; t < 12; ++t) {
    const mesh::Triangle& c = m.triangles[at(t)];
    const bool lies = std::max({m.points_m[at(c[0])].z(), m.points_m[at(c[1])].z(), m.points_m[at(c[2])].z()}) == 0.0;
    EXPECT_EQ(std::isnan(r.peak_K[at(t)]), lies);
    EXPECT_EQ(std::isnan(r.end_K[at(t)]), lies);
    if (!lies) {
      EXPECT_GT(r.peak_K[at(t)], 293.15);
    }
    floor += lies ? 1 : 0;
  }
  EXPECT_EQ(floor, 2);
  ASSERT_EQ(r.history.size(), 3U);
  EXPECT_EQ(r.history.back().mean_K, r.mean_K);
  EXPECT_GT(r.history[1].mean_K, r.history[0].mean_K);
}

/// Ten seconds under a sheet, half a minute open.
std::vector<HeatPhase> forming(const TriangleMesh& m) {
  const auto top = [&m](int t) { return faces_up(m, t); };
  return {{10.0, 8,
           [top](int t) {
             return top(t) ? Exchange{800.0, kCelsius + 140.0, 1400.0} : Exchange{};
           }},
          {30.0, 8, [](int) {
             return Exchange{25.0, 293.15};
           }}};
}

// The periodic state is the one that plain repetition ends in, only sooner; what goes in by the sheet goes out by air
// and platform.
TEST(BodyHeat, PeriodicStateIsWhatManyPartsLeadTo) {
  const TriangleMesh m = mesh::box({0, 0, 0}, {0.012, 0.012, 0.012});
  HeatOptions o = resin();
  o.base_film_W_m2K = 300.0, o.settled_K = 0.01;
  const BodyHeat heat(m, cells_of(m, 0.0015), o);
  const HeatResult soon = heat.periodic(forming(m)), late = heat.after(forming(m), 60),
                   second = heat.after(forming(m), 2);
  RecordProperty("cycles", soon.cycles);
  EXPECT_LE(soon.cycles, 8);
  EXPECT_NEAR(soon.mean_K, late.mean_K, 0.05);
  EXPECT_GT(late.mean_K, second.mean_K + 5.0);  // 60 parts in, it is no longer the mould it was
  double worst = 0.0;
  for (std::size_t t = 0; t < soon.peak_K.size(); ++t)
    worst = std::fmax(worst, std::abs(soon.peak_K[t] - late.peak_K[t]));  // none on the floor
  EXPECT_LT(worst, 0.1);
  const double in = soon.phase_heat_J[0];
  EXPECT_GT(in, 0.0);
  EXPECT_LT(soon.phase_heat_J[1], 0.0);
  EXPECT_LT(soon.base_heat_J, 0.0);
  EXPECT_NEAR(soon.phase_heat_J[0] + soon.phase_heat_J[1] + soon.base_heat_J, soon.stored_J, 1e-6 * in);
  EXPECT_NEAR(soon.stored_J, 0.0, 1e-3 * in);
}

// A shell with plaster behind takes more heat before it is warm than a hollow one.
TEST(BodyHeat, FillingSoaksHeatUp) {
  const TriangleMesh m = mesh::box({0, 0, 0}, {0.02, 0.02, 0.012});
  std::array<double, 2> mean{};
  for (int s = 0; s < 2; ++s) {
    mesh::VoxelOptions v;
    v.cell_m = 0.001, v.wall_m = 0.002, v.base_open = true;
    v.inside = s == 0 ? mesh::Inside::kHollow : mesh::Inside::kFilled;
    HeatOptions o = resin();
    o.fill = {0.30, 998.0 * 1520.0};
    const BodyHeat heat(m, voxels_of(mesh::Nearest(m), v), o);
    mean[at(s)] = heat.after(forming(m), 3).mean_K;
  }
  EXPECT_GT(mean[0], mean[1] + 3.0);
  EXPECT_GT(mean[1], 293.15 + 1.0);
}

// Heat leaves air holes out (docs/theory/mould_strength.md, "Vents"). What that costs, measured: the hole of a shipped
// case, 2 mm wide below its land of 2 mm (the land, of half a millimetre, is left in), in a piece of mould of 6 x 6 mm;
// its sides are insulated. It takes 9 % of the section away and of the heat that the mould holds, but lets none in.
// Two kelvins are a fifth of what the films are uncertain by (docs/theory/mould_strength.md).
TEST(BodyHeat, AnAirHoleHardlyChangesIt) {
  const TriangleMesh m = mesh::box({0, 0, 0}, {0.006, 0.006, 0.006});
  HeatOptions o = resin();
  o.base_film_W_m2K = 130.0, o.settled_K = 0.02;
  const auto with = [&](std::vector<mesh::Bore> holes) {
    mesh::VoxelOptions v;
    v.cell_m = 0.25e-3;
    v.vents = std::move(holes);
    const mesh::Voxels cells = voxels_of(mesh::Nearest(m), v);
    return std::pair(BodyHeat(m, cells, o).periodic(forming(m)), cells.shell_m3());
  };
  const auto [whole, all_m3] = with({});
  const auto [drilled, left_m3] = with({{{0.003, 0.003, 0.004}, {0.003, 0.003, 0.0}, 1e-3}});
  const double hole_m3 = std::numbers::pi * 1e-6 * 0.004;
  EXPECT_NEAR(all_m3 - left_m3, hole_m3, 0.02 * hole_m3);  // eight cells across
  EXPECT_GT(whole.mean_K, 293.15 + 10.0);
  EXPECT_NE(drilled.mean_K, whole.mean_K);
  EXPECT_NEAR(drilled.mean_K, whole.mean_K, 2.0);
  EXPECT_NEAR(hottest_K(drilled), hottest_K(whole), 2.0);
  RecordProperty("mean_change_K", std::to_string(drilled.mean_K - whole.mean_K));
  RecordProperty("hottest_change_K", std::to_string(hottest_K(drilled) - hottest_K(whole)));
}

TEST(BodyHeat, GivesTheSameBitsForAnyNumberOfThreads) {
  const TriangleMesh m = mesh::box({0, 0, 0}, {0.014, 0.012, 0.013});
  const auto run = [&](int threads) {
    omp_set_num_threads(threads);
    const BodyHeat heat(m, cells_of(m, 0.0007), resin());
    const HeatResult r = heat.after({forming(m)[0]}, 1);
    omp_set_num_threads(1);
    return r;
  };
  const HeatResult one = run(1), two = run(2);
  ASSERT_GT(one.node_K.size(), 4000U);
  EXPECT_TRUE(one.node_K == two.node_K);
  ASSERT_EQ(one.peak_K.size(), two.peak_K.size());
  EXPECT_EQ(std::memcmp(one.peak_K.data(), two.peak_K.data(), one.peak_K.size() * sizeof(double)), 0);  // NaN too
  EXPECT_GT(hottest_K(one), 293.15);
}

TEST(BodyHeat, RefusesWhatNothingCools) {
  const TriangleMesh m = mesh::box({0, 0, 0}, {0.01, 0.01, 0.01});
  const BodyHeat heat(m, cells_of(m, 0.001), resin());
  EXPECT_THROW(heat.periodic({{10.0, 4, [](int) { return Exchange{}; }}}), Error);
}

}  // namespace
}  // namespace pellicle::mould
