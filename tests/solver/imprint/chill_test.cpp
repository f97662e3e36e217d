// Does detail meet the skin that the mould has chilled, between the sheet that lies and the one that spans?
#include "solver/imprint/chill.h"

#include "solver/imprint/layer_lines.h"
#include "tests/solver/imprint/hold_samples.h"

#include <gtest/gtest.h>

#include <cmath>

namespace pellicle::imprint {
namespace {

constexpr double kThickness_m = 0.5e-3, kFormed_m = 0.3e-3;

HeatSpec heat(double mould_Ws05_m2K = 700.0) { return amorphous(mould_Ws05_m2K); }

TEST(Chill, TheSkinGrowsOnTheMouldAndNotOverAStroke) {
  const auto moments = moments_after(heat(23400.0), gas_from(0.2), 0.1, kFormed_m);
  ASSERT_TRUE(moments);
  ASSERT_EQ(moments->chilled.size(), moments->open.size());
  ASSERT_GT(moments->chilled.size(), 10U);
  double last_m = 0.0;
  for (std::size_t i = 0; i < moments->chilled.size(); ++i) {
    const Moment &lies = moments->chilled[i], &spans = moments->open[i];
    EXPECT_EQ(lies.pressure_Pa, spans.pressure_Pa);
    EXPECT_NEAR(lies.pressure_Pa, 4e5 * std::fmin(1.0, std::fmax(0.0, lies.since_s - 0.1) / 0.1), 0.06 * 4e5)
        << "between rows";
    EXPECT_GE(lies.skin_m, last_m - 1e-12);
    if (lies.since_s < 0.4) last_m = lies.skin_m;  // later the core cools too, and is no softer
    EXPECT_TRUE(lies.skin_m == 0.0 || lies.skin_Pa > lies.core_Pa);
    EXPECT_EQ(spans.skin_m, 0.0);
  }
  EXPECT_GT(last_m, 0.02 * kFormed_m);
  EXPECT_LT(last_m, kFormed_m);
}

/// Isothermal and under full pressure from the touch on, the core is network and modes after the time since: a check
/// without heat. 0.1 %: the pressure is there from the touch on.
TEST(Chill, WithoutHeatTheSheetOnlyRelaxes) {
  HeatSpec even = heat();
  even.mould_K = even.start_K;
  even.gas_film_W_m2K = even.still_film_W_m2K = 0.0;
  const auto moments = moments_after(even, gas_from(-1.0), 0.1, kFormed_m);
  ASSERT_TRUE(moments);
  for (const Moment& m : moments->chilled) {
    EXPECT_EQ(m.skin_m, 0.0);
    EXPECT_NEAR(m.core_Pa, sheet::modulus_after_Pa(*even.law, even.start_K, m.since_s), 1e-3 * m.core_Pa);
  }
}

/// A late pressure on metal leaves less than an early one, and less than a late one on resin; switched off there is
/// nothing to tell.
TEST(Chill, MetalAndDelayTakeDepth) {
  const auto deepest = [](const HeatSpec& spec, double gas_s) {
    const auto m = moments_after(spec, gas_from(gas_s), 0.1, kFormed_m);
    const Moment& s = strongest(m->chilled, kFormed_m, 0.15e-3);
    const Stair stair{0.3e-3, 0.1e-3, 0.5};
    return mould_face_line_m(stair, {.thickness_m = kFormed_m,
                                     .shear_modulus_Pa = s.core_Pa,
                                     .pressure_Pa = s.pressure_Pa,
                                     .skin = {s.skin_m, s.skin_Pa}});
  };
  const HeatSpec resin = heat(), metal = heat(23400.0);
  const double early_m = deepest(metal, 0.1), late_m = deepest(metal, 0.5), on_resin_m = deepest(resin, 0.5);
  EXPECT_LT(late_m, 0.9 * early_m);
  EXPECT_LT(late_m, 0.9 * on_resin_m) << early_m;
  HeatSpec off = heat();
  off.skin_to_relief = false;
  EXPECT_FALSE(moments_after(off, gas_from(0.1), 0.1, kFormed_m));
}

TEST(Chill, PlacesThatTouchTogetherAreOneClass) {
  const std::vector<double> touched_s{0.0, 1.6, 0.04, 0.8, 0.06}, weight{1.0, 2.0, 3.0, 1.0, 1.0},
      thickness_m{1.0, 2.0, 3.0, 4.0, 7.0};
  const std::vector<TouchClass> classes = touch_classes(touched_s, weight, thickness_m);  // steps of 0.1 s
  ASSERT_EQ(classes.size(), 3U);
  EXPECT_EQ(classes[0].members, (std::vector<std::size_t>{0, 2, 4}));
  EXPECT_NEAR(classes[0].touched_s, (3.0 * 0.04 + 0.06) / 5.0, 1e-15);
  EXPECT_NEAR(classes[0].thickness_m, (1.0 + 9.0 + 7.0) / 5.0, 1e-15);
  EXPECT_EQ(classes[1].members, (std::vector<std::size_t>{3}));
  EXPECT_EQ(classes[2].members, (std::vector<std::size_t>{1})) << "the last touch belongs to the last step";
  const std::vector<double> alike(5, 0.3);
  EXPECT_EQ(touch_classes(alike, weight, thickness_m).size(), 1U);
  EXPECT_TRUE(touch_classes({}, {}, {}).empty());
}

TEST(Chill, WideStrokesAndShortTimesAreOpen) {
  EXPECT_NEAR(open_weight(1e-3, 1e-7, 0.5), std::erf(0.85e-3 / std::sqrt(2e-7)), 1e-12);
  EXPECT_GT(open_weight(3e-3, 1e-7, 0.1), 0.999);
  EXPECT_LT(open_weight(0.05e-3, 1e-7, 1.0), 0.1);
}

/// A groove between both brackets: the note has them, the answer lies between by the weight of its width.
TEST(Chill, CaptureLiesBetweenTheChilledAndTheOpenSheet) {
  CaptureTask task;
  task.name = "groove";
  mesh::Profile groove;
  groove.kind = mesh::Profile::Kind::kStrip;
  groove.x_m = {0.0, 1e-3, 1.05e-3, 1.45e-3, 1.5e-3, 2.5e-3};
  groove.z_m = {0.0, 0.0, -0.3e-3, -0.3e-3, 0.0, 0.0};
  task.shape = groove;
  task.sections = false;
  task.state.thickness_m = kFormed_m;
  task.state.stretch_x = task.state.stretch_y = 1.29;
  task.state.shear_modulus_Pa = 0.4e6;
  task.state.pressure_Pa = 4e5;
  const auto moments = moments_after(heat(), gas_from(0.1), 0.1, kFormed_m);
  ASSERT_TRUE(moments);
  const ReliefAnswer between = capture_between(task, *moments);
  ASSERT_EQ(between.strokes.size(), 1U);
  const StrokeAnswer& stroke = between.strokes.front();
  const auto at = [&](const Moment& m) {
    CaptureTask one = task;
    one.state.pressure_Pa = m.pressure_Pa, one.state.shear_modulus_Pa = m.core_Pa;
    one.state.skin_thickness_m = m.skin_m, one.state.skin_shear_modulus_Pa = m.skin_Pa;
    one.state.skin_stretched = false;
    return capture(one).strokes.front().depth.answer_m;
  };
  const Moment& chilled = strongest(moments->chilled, kFormed_m, stroke.width_m);
  const double cold_m = at(chilled), open_m = at(strongest(moments->open, kFormed_m, kFormed_m));
  EXPECT_LT(cold_m, 0.9 * open_m);
  const double weight = open_weight(stroke.width_m, moments->diffusivity_m2_s, chilled.since_s);
  EXPECT_NEAR(stroke.depth.answer_m, cold_m + weight * (open_m - cold_m), 1e-12);
}

}  // namespace
}  // namespace pellicle::imprint
