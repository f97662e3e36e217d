// Does the sheet leave the heater as warm as the case says, place by place and face by face?
#include "solver/sheet/heater.h"

#include "mesh/sheet_mesher.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

namespace pellicle::sheet {
namespace {

constexpr double kMean_K = 413.15, kRadius_m = 0.02;

HeatSpec even() {
  HeatSpec heat{};
  heat.polymer = {0.2, 1800.0, 1200.0};
  heat.start_K = kMean_K, heat.mould_K = 300.0;
  return heat;
}
mesh::SheetMesh disc() { return mesh::mesh_sheet({mesh::Disc{2.0 * kRadius_m}, mesh::Vec2::Zero()}, {1e-3, 1e-3, {}}); }
FlatSheet flat(const mesh::SheetMesh& m) { return {m.flat_m, m.triangles, m.on_rim}; }

TEST(Heater, EvenWithoutMore) {
  const mesh::SheetMesh sheet = disc();
  const StartTemperature start = start_temperature(even(), flat(sheet));
  for (const Vec2& p : sheet.flat_m) {
    EXPECT_EQ(start(p).mould_side_K, kMean_K);
    EXPECT_EQ(start(p).free_side_K, kMean_K);
  }
}

/// A map that rises along x and y comes back at every node, for bilinear between the points is exact then: to rounding.
TEST(Heater, MapIsReadBackAtTheNodesAndFacesStandAboutIt) {
  HeatSpec heat = even();
  heat.heater.face_difference_K = 20.0;
  TemperatureMap map{{-0.03, -0.03}, 5e-3, 13, 13, {}};
  const auto field_K = [](const Vec2& p) { return 400.0 + 1000.0 * p.x() - 300.0 * p.y(); };
  for (int j = 0; j < 13; ++j)
    for (int i = 0; i < 13; ++i) map.at_K.push_back(field_K(map.corner_m + map.spacing_m * Vec2(i, j)));
  heat.heater.map = map;
  const mesh::SheetMesh sheet = disc();
  const StartTemperature start = start_temperature(heat, flat(sheet));
  ASSERT_GT(sheet.flat_m.size(), 500U);
  for (const Vec2& p : sheet.flat_m) {
    EXPECT_NEAR(start(p).mould_side_K, field_K(p) + 10.0, 1e-9);
    EXPECT_NEAR(start(p).free_side_K, field_K(p) - 10.0, 1e-9);
  }
}

/// Five degrees more are five more at every node and on both faces: with a map, without one, in a cold rim. To
/// rounding.
TEST(Heater, AWarmerSheetIsAsMuchWarmerEverywhere) {
  const mesh::SheetMesh sheet = disc();
  HeatSpec mapped = even(), rimmed = even();
  mapped.heater.map = TemperatureMap{{-0.03, -0.03}, 0.06, 2, 2, {400.0, 410.0, 420.0, 430.0}};
  mapped.heater.face_difference_K = 6.0;
  rimmed.heater.cold_rim_m = 5e-3, rimmed.heater.clamp_K = 333.15;
  HeatSpec both = mapped;
  both.heater.cold_rim_m = 5e-3, both.heater.clamp_K = 333.15;
  int checked = 0;
  for (const HeatSpec& heat : {even(), mapped, rimmed, both}) {
    const StartTemperature before = start_temperature(heat, flat(sheet));
    const StartTemperature after = start_temperature(warmer(heat, 5.0), flat(sheet));
    for (const Vec2& p : sheet.flat_m) {
      EXPECT_NEAR(after(p).mould_side_K - before(p).mould_side_K, 5.0, 1e-9);
      EXPECT_NEAR(after(p).free_side_K - before(p).free_side_K, 5.0, 1e-9);
      ++checked;
    }
  }
  EXPECT_GT(checked, 2000);
}

/// Linear in the distance to the clamp; the rim is a polygon, off a circle by (1 mm)^2/8R = 6 um, of 5 mm: 0.2 %.
TEST(Heater, ColdRimWarmsEvenlyFromTheClamp) {
  HeatSpec heat = even();
  heat.heater.cold_rim_m = 5e-3, heat.heater.clamp_K = 333.15, heat.heater.face_difference_K = 8.0;
  const mesh::SheetMesh sheet = disc();
  const StartTemperature start = start_temperature(heat, flat(sheet));
  int cold = 0, hot = 0;
  for (const Vec2& p : sheet.flat_m) {
    const double share = std::min(1.0, (kRadius_m - p.norm()) / 5e-3);
    const FaceTemperatures T = start(p);
    EXPECT_NEAR(0.5 * (T.mould_side_K + T.free_side_K), 333.15 + 80.0 * share, 0.2);
    EXPECT_NEAR(T.mould_side_K - T.free_side_K, 8.0 * share, 0.02);
    ++(share < 1.0 ? cold : hot);
  }
  EXPECT_GT(cold, 200);
  EXPECT_GT(hot, 200);
}

/// Warm below, cold above, insulated on both sides: the slope dies away as sum over odd n of
///   T - mean = D sum 4/(n pi)^2 cos(n pi s) exp(-n^2 pi^2 Fo)
/// (cosine series of a linear start; Carslaw & Jaeger 1959, 3.3, from memory). Twelve cells: off by 0.6 K of 120 K at
/// most where films are as strong as this slope (heat.md); half a kelvin of 20 K at both faces.
TEST(Heater, TwoFacesEvenOutAsTheFourierSeriesSays) {
  HeatSpec heat = even();
  heat.heater.face_difference_K = 20.0;
  const mesh::SheetMesh sheet = disc();
  const double h = 1e-3;
  HeatState state = hot_sheet(heat.polymer, 12, sheet.flat_m, h, start_temperature(heat, flat(sheet)), heat.mould_K);
  const std::size_t n = sheet.flat_m.size();
  const std::vector<double> thick(n, h), never(n, 0.0);
  double time_s = 0.0;
  int checked = 0;
  for (const double step_s : {0.2, 0.3, 1.0, 1.5}) {
    exchange_heat(state, {step_s, thick, never, never, 1000.0, {0.0, 293.15}, {0.0, 293.15}});
    time_s += step_s;
    const double fourier = heat.polymer.diffusivity_m2_s() * time_s / (h * h);
    double slope = 0.0;
    for (int k = 1; k < 60; k += 2)
      slope += 4.0 / (k * k * std::numbers::pi * std::numbers::pi) *
               std::exp(-k * k * std::numbers::pi * std::numbers::pi * fourier);
    const HeatProfile profile = heat_profile(state, 7);
    EXPECT_NEAR(profile.face_K, kMean_K + 20.0 * slope, 0.5) << time_s;
    EXPECT_NEAR(profile.free_face_K, kMean_K - 20.0 * slope, 0.5) << time_s;
    EXPECT_NEAR(profile.mean_K(), kMean_K, 1e-9);
    if (slope > 0.1) ++checked;
  }
  EXPECT_GE(checked, 3);
}

}  // namespace
}  // namespace pellicle::sheet
