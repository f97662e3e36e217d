// Does screening meet the sheet that the mould has chilled, class by class, between the one that lies and the one that
// spans?
#include "solver/imprint/screening.h"

#include "solver/imprint/chill.h"
#include "solver/imprint/press.h"
#include "solver/imprint/slot_table.h"
#include "tests/solver/imprint/hold_samples.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

namespace pellicle::imprint {
namespace {

constexpr double kThickness_m = 0.5e-3;

/// Nodes that touched at these times under the gas of gas_from; all as warm as `amorphous` where no start is given.
forming::FormingResult touched(const std::vector<double>& at_s, double gas_s, std::vector<double> start_K = {}) {
  forming::FormingResult f = gas_from(gas_s);
  const std::size_t n = at_s.size();
  f.points_m.assign(n, mesh::Vec3::Zero());
  f.touched_s = at_s;
  f.thickness_m.assign(n, kThickness_m);
  f.stretch_1.assign(n, 1.2), f.stretch_2.assign(n, 1.1);
  f.element_m.assign(n, 0.2e-3);
  f.pressure_since_Pa.assign(n, 4e5);
  f.touching.assign(n, 1);
  const HeatSpec heat = amorphous();
  if (start_K.empty()) start_K.assign(n, heat.start_K);
  for (std::size_t i = 0; i < n; ++i) f.flat_m.push_back({static_cast<double>(i), 0.0});
  const auto start = [&](const mesh::Vec2& at_m) {
    const double here_K = start_K[static_cast<std::size_t>(at_m.x())];
    return sheet::FaceTemperatures{here_K, here_K};
  };
  f.heat = sheet::hot_sheet(heat.polymer, heat.cells, f.flat_m, f.bought_thickness_m, start, heat.mould_K);
  return f;
}
constexpr double kReference_Pa = 0.3e6;

TEST(ScreeningChill, WithoutHeatOrLawTheLawAloneCounts) {
  const forming::FormingResult f = touched({0.1, 0.5}, 0.2);
  const Screening plain = screen(f, kReference_Pa);
  HeatSpec no_law = amorphous();
  no_law.law.reset();
  const Screening same = screen(f, kReference_Pa, no_law);
  EXPECT_EQ(plain.finest_radius_m, same.finest_radius_m);
  EXPECT_EQ(plain.capture_depth_500um_m, same.capture_depth_500um_m);
  EXPECT_EQ(plain.capture_depth_500um_m[0], stroke_depth_m(0.5e-3, kThickness_m, 1.2, 1.1, kReference_Pa, 4e5));
}

/// As hot as the mould and no film: every moment has the modulus left since touch, and the last is the softest.
TEST(ScreeningChill, WithoutCoolingItIsRelaxationAlone) {
  HeatSpec even = amorphous();
  even.mould_K = even.start_K, even.gas_film_W_m2K = even.still_film_W_m2K = 0.0;
  const forming::FormingResult f = touched({0.1}, -1.0);
  const Screening s = screen(f, kReference_Pa, even);
  const double left_Pa = sheet::modulus_after_Pa(*even.law, even.start_K, f.time_s - 0.1);
  // The pressure is there from the touch on; 0.1 % as in chill_test.
  EXPECT_NEAR(s.finest_radius_m[0], finest_radius_m(kThickness_m, 1.2, 1.1, 0.2e-3, left_Pa, 4e5),
              2e-3 * s.finest_radius_m[0]);
  EXPECT_NEAR(s.capture_depth_500um_m[0], stroke_depth_m(0.5e-3, kThickness_m, 1.2, 1.1, left_Pa, 4e5),
              2e-3 * s.capture_depth_500um_m[0]);
}

TEST(ScreeningChill, EarlyTouchAndLatePressureTakeDepthAndMetalTakesMore) {
  const forming::FormingResult late = touched({0.02, 0.7}, 0.6);
  const Screening resin = screen(late, kReference_Pa, amorphous()),
                  metal = screen(late, kReference_Pa, amorphous(23400.0));
  for (const auto field : {&Screening::capture_depth_200um_m, &Screening::capture_depth_500um_m}) {
    // On resin its skin comes to the set temperature only as the pressure stands: within a fifth, either way.
    EXPECT_NEAR((resin.*field)[0] / (resin.*field)[1], 1.0, 0.2);
    EXPECT_LT((metal.*field)[0], 0.8 * (metal.*field)[1]) << "touched early, pressed late";
    EXPECT_LT((metal.*field)[0], 0.9 * (resin.*field)[0]);
  }
  EXPECT_GT(metal.finest_radius_m[0], 1.1 * metal.finest_radius_m[1]);
  // A wide stroke feels least of it.
  EXPECT_GT(metal.capture_depth_1000um_m[0] / metal.capture_depth_1000um_m[1],
            metal.capture_depth_200um_m[0] / metal.capture_depth_200um_m[1]);
}

/// Between both brackets by the weight of the width, moduli along with the law's.
TEST(ScreeningChill, LiesBetweenByTheWeightOfTheWidth) {
  const forming::FormingResult f = touched({0.02}, 0.6);
  const HeatSpec heat = amorphous(23400.0);
  const Screening s = screen(f, kReference_Pa, heat);
  ASSERT_TRUE(s.chill);
  ASSERT_EQ(s.chill->classes.size(), 1U);
  const Bracket& b = *s.chill->classes[0].strokes[1];
  EXPECT_GT(b.chilled.shear_modulus_Pa, 1.3 * b.open.shear_modulus_Pa);
  const auto depth_m = [&](const EvenSheet& e, double factor) {
    return stroke_depth_m(0.5e-3, kThickness_m, 1.2, 1.1, factor * e.shear_modulus_Pa, e.pressure_Pa);
  };
  for (const double factor : {1.0, 2.0}) {
    const double weight = open_weight(0.5e-3, heat.polymer.diffusivity_m2_s(), b.chilled.since_s);
    const double expected_m = (1.0 - weight) * depth_m(b.chilled, factor) + weight * depth_m(b.open, factor);
    EXPECT_NEAR(screened_depth_m(f, s.chill, 0, 1, factor * kReference_Pa), expected_m, 1e-12);
  }
  EXPECT_NEAR(s.chill->classes[0].drawn_K, heat.start_K, 5.0) << "hot when it touched";
}

/// Places that left the heater warmer are softer and drawn warmer, each as in a run that is all as warm; those within a
/// few kelvin go together.
TEST(ScreeningChill, PlacesAreAsWarmAsTheyLeftTheHeater) {
  const HeatSpec heat = amorphous();
  const double cold_K = heat.start_K - 25.0, hot_K = heat.start_K + 15.0, never = std::nan("");
  const forming::FormingResult f =
      touched({0.1, 0.1, 0.1, never, never}, 0.2, {cold_K, hot_K, hot_K + 1.0, cold_K - 2.0, cold_K + 2.0});
  const auto chill = screening_chill(heat, f, kReference_Pa);
  ASSERT_TRUE(chill);
  ASSERT_EQ(chill->classes.size(), 2U);
  EXPECT_EQ(chill->class_of, (std::vector<int>{0, 1, 1, -1, -1}));
  HeatSpec cold = heat;
  cold.start_K = cold_K;
  const auto alone = screening_chill(cold, touched({0.1, never}, 0.2, {cold_K, cold_K}), kReference_Pa);
  EXPECT_NEAR(chill->classes[0].drawn_K, alone->classes[0].drawn_K, 1e-9);
  EXPECT_NEAR(chill->untouched_K, alone->untouched_K, 1e-9);
  EXPECT_NEAR(chill->classes[0].membrane->chilled.shear_modulus_Pa,
              alone->classes[0].membrane->chilled.shear_modulus_Pa, 1e-9 * kReference_Pa);
  EXPECT_GT(chill->classes[0].strokes[1]->open.shear_modulus_Pa,
            1.2 * chill->classes[1].strokes[1]->open.shear_modulus_Pa);
  EXPECT_GT(chill->classes[1].drawn_K, chill->classes[0].drawn_K + 30.0);
}

/// Slots in the sheet with its skin, by the press on three times as many points, are as deep as those of the even sheet
/// by the slot table, which is good to 0.8 %; a coarse grid makes them up to 3.3 % too deep.
TEST(ScreeningChill, TheEvenSheetIsAsDeepAsSlotsUnderTheSkin) {
  int checked = 0;
  for (const double gas_s : {0.1, 0.6}) {
    const forming::FormingResult f = touched({0.02}, gas_s);
    const HeatSpec heat = amorphous(23400.0);
    const auto chill = screening_chill(heat, f, kReference_Pa);
    const auto moments = moments_after(heat, f, 0.02, kThickness_m);
    ASSERT_TRUE(chill && moments);
    for (std::size_t i = 0; i < kScreenedWidths_m.size(); ++i) {
      const double w = kScreenedWidths_m[i];
      const Moment& m = strongest(moments->chilled, kThickness_m, w);
      const EvenSheet& even = chill->classes[0].strokes[i]->chilled;
      ASSERT_GT(m.skin_m, 0.0);
      EXPECT_GT(even.shear_modulus_Pa, 1.02 * m.core_Pa);
      constexpr int kFree = 77, kPeriod = 384;
      const double p_Pa = 1e-3 * m.core_Pa;
      std::vector<double> mould(kPeriod, 0.0);
      std::fill_n(mould.begin(), kFree, -1.0);
      Press press({kPeriod, 1, w / (kFree + 0.35)}, {{{m.skin_m, m.skin_Pa}, {kThickness_m - m.skin_m, m.core_Pa}}},
                  Boundary::kPeriodic);
      const Pressed pressed = press.solve(mould, p_Pa, {1e-9 * w, 2000});
      const double by_press = -*std::min_element(pressed.displacement_m.begin(), pressed.displacement_m.end());
      const double by_even = slot_factor(w / kThickness_m, 1.0, 1.0) * p_Pa * w / (4.0 * even.shear_modulus_Pa);
      EXPECT_NEAR(by_even / by_press, 1.0, 0.04) << w << " skin " << m.skin_m << " of " << m.skin_Pa / m.core_Pa;
      ++checked;
    }
  }
  EXPECT_EQ(checked, 6);
}

}  // namespace
}  // namespace pellicle::imprint
