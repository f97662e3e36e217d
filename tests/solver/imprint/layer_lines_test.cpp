// Steps of a printed surface and what the sheet shows of them: against a staircase laid out point by point, the press,
// and finite strain.
#include "solver/imprint/layer_lines.h"

#include "mesh/check.h"
#include "solver/imprint/section.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <fstream>
#include <numbers>
#include <string>

namespace pellicle::imprint {
namespace {

constexpr double kDegree = std::numbers::pi / 180.0;
constexpr double kModulus_Pa = 0.45e6;
constexpr PressedSheet kSheet{0.4e-3, kModulus_Pa, 0.4e6};

Stair at_degrees(double layer_m, double degrees) { return stair(layer_m, std::cos(degrees * kDegree)).value(); }

// A stair of treads and risers, laid out in the plane of the normal and the build direction, looked at from a line
// through its outer corners: distances along it and from it. Round-off of corners at 20 steps: 1e-12 of a layer.
TEST(LayerLines, StairIsThatOfOneLaidOut) {
  constexpr double kLayer_m = 0.05e-3;
  for (const double degrees : {1.0, 10.0, 37.0, 45.0, 70.0, 89.0}) {
    const double th = degrees * kDegree;
    const std::array up_slope{std::cos(th), std::sin(th)}, normal{-std::sin(th), std::cos(th)};
    const auto along = [&](double x, double z) { return x * up_slope[0] + z * up_slope[1]; };
    const auto off = [&](double x, double z) { return x * normal[0] + z * normal[1]; };
    double lowest = 0.0;
    for (int step = 0; step < 20; ++step) {  // outer corner at the end of a riser, inner one at the end of a tread
      const double x = step * kLayer_m / std::tan(th), z = step * kLayer_m;
      EXPECT_NEAR(off(x, z), 0.0, 1e-12 * kLayer_m * (1.0 + x / kLayer_m));
      lowest = std::min(lowest, off(x + kLayer_m / std::tan(th), z));
    }
    const Stair s = at_degrees(kLayer_m, degrees);
    EXPECT_NEAR(s.height_m, -lowest, 1e-9 * kLayer_m) << degrees;
    EXPECT_NEAR(s.period_m, along(kLayer_m / std::tan(th), kLayer_m), 1e-9 * s.period_m);
    EXPECT_NEAR(s.flat_share, along(kLayer_m / std::tan(th), 0.0) / s.period_m, 1e-12);
  }
}

TEST(LayerLines, FlatAndUprightSurfacesHaveNoStairAndDownwardOnesHaveThatOfTheirMirror) {
  EXPECT_FALSE(stair(1e-4, 1.0).has_value());
  EXPECT_FALSE(stair(1e-4, -1.0).has_value());
  EXPECT_FALSE(stair(1e-4, std::cos(0.49 * kDegree)).has_value());
  EXPECT_TRUE(stair(1e-4, std::cos(0.51 * kDegree)).has_value());
  EXPECT_FALSE(stair(1e-4, 0.0).has_value());
  EXPECT_NEAR(at_degrees(1e-4, 89.99).height_m, 0.0, 2e-8);  // it dies away towards the wall
  EXPECT_EQ(stair(1e-4, -0.3)->height_m, stair(1e-4, 0.3)->height_m);
  EXPECT_THROW(stair(0.0, 0.3), Error);
}

// The table against the press on a grid of its own, twice as fine, between its points: 2 % of the height, most of it
// the table's own grid, where all waves of the steps go with 1/k. Long waves of a drawn sheet and skins do not: C(k)
// and C(2 k) do not tell how its shorter waves go, 8 %.
TEST(LayerLines, TableIsThePress) {
  int checked = 0, simple = 0;
  double largest_skin_effect = 0.0;
  for (const Skin& skin : {Skin{}, Skin{0.03e-3, 5e6}, Skin{0.1e-3, 20e6}}) {
    for (const double degrees : {2.0, 7.0, 33.0, 61.0, 84.0}) {
      for (const double layer_m : {0.025e-3, 0.1e-3}) {
        for (const auto& [pressure_Pa, along] : {std::array{0.03e6, 1.0}, {0.4e6, 1.0}, {0.4e6, 1.7}, {2e6, 1.3}}) {
          PressedSheet sheet = kSheet;
          sheet.pressure_Pa = pressure_Pa, sheet.stretch_along = along, sheet.stretch_across = 1.2, sheet.skin = skin;
          const Stair s = at_degrees(layer_m, degrees);
          const LayerLines found = layer_lines(s, sheet), expected = pressed_layer_lines(s, sheet, 256);
          const bool is_simple = !(skin.thickness_m > 0.0) && sheet.thickness_m > 0.4 * s.period_m;
          const double allowed_m = (is_simple ? 0.02 : 0.08) * s.height_m;
          EXPECT_NEAR(found.mould_face_m, expected.mould_face_m, allowed_m) << degrees << " " << pressure_Pa;
          EXPECT_NEAR(found.free_face_m, expected.free_face_m, allowed_m) << degrees << " " << pressure_Pa;
          simple += is_simple;
          EXPECT_EQ(found.mould_face_m, mould_face_line_m(s, sheet));
          sheet.skin = {};
          largest_skin_effect =
              std::max(largest_skin_effect, (mould_face_line_m(s, sheet) - found.mould_face_m) / s.height_m);
          ++checked;
        }
      }
    }
  }
  EXPECT_EQ(checked, 120);
  EXPECT_GE(simple, 32);
  EXPECT_GT(largest_skin_effect, 0.5);  // so the skin was there
}

TEST(LayerLines, GrowWithPressureFromNothingToTheWholeHeight) {
  for (const double degrees : {3.0, 20.0, 45.0, 80.0}) {
    const Stair s = at_degrees(0.05e-3, degrees);
    PressedSheet sheet = kSheet;
    double last = 0.0;
    for (sheet.pressure_Pa = 10.0; sheet.pressure_Pa < 1e9; sheet.pressure_Pa *= 1.3) {
      const LayerLines now = layer_lines(s, sheet);
      EXPECT_GE(now.mould_face_m, last) << degrees << " " << sheet.pressure_Pa;
      EXPECT_LE(now.free_face_m, now.mould_face_m);
      last = now.mould_face_m;
    }
    EXPECT_NEAR(last, s.height_m, 1e-3 * s.height_m);
    // Far below the table depth goes with the pressure: half of it for half.
    sheet.pressure_Pa = 20.0;
    const double twice = mould_face_line_m(s, sheet);
    sheet.pressure_Pa = 10.0;
    EXPECT_NEAR(mould_face_line_m(s, sheet), 0.5 * twice, 1e-12 * twice);
    EXPECT_GT(twice, 0.0);
    EXPECT_LT(twice, 0.01 * s.height_m);
    sheet.pressure_Pa = 0.0;
    EXPECT_EQ(layer_lines(s, sheet).mould_face_m, 0.0);
  }
}

TEST(LayerLines, GrowWithTheLayer) {
  for (const double degrees : {1.0, 5.0, 30.0, 60.0, 85.0}) {
    LayerLines last;
    for (double layer_m = 0.01e-3; layer_m < 0.4e-3; layer_m *= 1.1) {
      const LayerLines now = layer_lines(at_degrees(layer_m, degrees), kSheet);
      EXPECT_GT(now.mould_face_m, last.mould_face_m) << degrees << " " << layer_m;
      EXPECT_GE(now.free_face_m, last.free_face_m) << degrees << " " << layer_m;
      last = now;
    }
  }
}

// Steps long against the sheet go through it whole, but for what eight waves cannot draw of a sharp step (9 %: the
// overshoot of a jump); steps a third of its thickness apart leave 2 (1 + x) e^-x of their first wave, x = 6 pi: below
// 1e-6.
TEST(LayerLines, FreeFaceShowsLongStepsOnly) {
  PressedSheet sheet = kSheet;
  sheet.pressure_Pa = 4e6;
  const Stair even{1.0, 0.05e-3, 0.5};
  const auto with_period = [&](double thicknesses) {
    Stair s = even;
    s.period_m = thicknesses * sheet.thickness_m;
    return layer_lines(s, sheet);
  };
  const LayerLines wide = with_period(60.0), narrow = with_period(1.0 / 3.0);
  EXPECT_NEAR(wide.free_face_m, wide.mould_face_m, 0.09 * wide.mould_face_m);
  EXPECT_GT(narrow.mould_face_m, 0.9 * even.height_m);
  EXPECT_LT(narrow.free_face_m, 1e-6 * even.height_m);
  EXPECT_LT(with_period(2.0).free_face_m, with_period(4.0).free_face_m);
}

TEST(LayerLines, SkinOfTheSameStiffnessIsNoneAndStretchUpTheSlopeHinders) {
  const Stair s = at_degrees(0.05e-3, 30.0);
  PressedSheet sheet = kSheet, skinned = kSheet;
  skinned.skin = {0.1e-3, kModulus_Pa};
  // 1e-6 in compliance, which is all the table sees of the sheet.
  EXPECT_NEAR(mould_face_line_m(s, skinned), mould_face_line_m(s, sheet), 1e-5 * s.height_m);
  sheet.stretch_along = 2.0;
  EXPECT_LT(mould_face_line_m(s, sheet), mould_face_line_m(s, kSheet));
  PressedSheet folded = kSheet, taut = kSheet;  // folded up the slope: as if it were just taut there
  folded.stretch_along = 0.5, folded.stretch_across = 1.5;
  taut.stretch_along = 1.0 / std::sqrt(1.5), taut.stretch_across = 1.5;
  EXPECT_EQ(mould_face_line_m(s, folded), mould_face_line_m(s, taut));
}

// What docs/pictures/layer_lines.png shows: sheet of clear copolyester, formed to 0.5 mm at 4 bar. The curves are
// written to the folder PELLICLE_LAYER_LINES, if that is set, for tests/verification/layer_lines_picture.py.
TEST(LayerLines, RiseSteeplyFromFlatAndFallToTheWall) {
  const char* folder = std::getenv("PELLICLE_LAYER_LINES");
  for (const double layer_um : {25.0, 50.0, 100.0}) {
    std::ofstream curve;
    if (folder != nullptr) curve.open(std::string(folder) + "/" + std::to_string(static_cast<int>(layer_um)) + ".csv");
    curve << "angle_deg,height_um,mould_face_um,free_face_um\n";
    double most = 0.0, most_at = 0.0, last = 0.0;
    for (double degrees = 0.6; degrees < 90.0; degrees *= 1.05) {
      const Stair s = at_degrees(1e-6 * layer_um, degrees);
      const LayerLines lines = layer_lines(s, {0.5e-3, kModulus_Pa, 0.4e6});
      curve << degrees << "," << 1e6 * s.height_m << "," << 1e6 * lines.mould_face_m << "," << 1e6 * lines.free_face_m
            << "\n";
      last = 1e6 * lines.mould_face_m;
      if (last > most) most = last, most_at = degrees;
    }
    EXPECT_GT(most, 0.8 * layer_um);
    EXPECT_LT(most, layer_um);
    EXPECT_LT(most_at, 5.0);
    EXPECT_LT(last, 0.1 * layer_um);
  }
}

// Finite strain on the same steps (section.h, slipping). In a drawn sheet linear theory is 7 % too deep where steps
// are shallow, 20 % at 45 degrees, where they are half as high as long: past its range it is too deep, not too shallow.
TEST(LayerLines, LinearTheoryIsTooDeepInADrawnSheetButNotByMuch) {
  for (const auto& [degrees, over_modulus, too_deep] : {std::array{10.0, 0.3, 0.07}, {45.0, 0.3, 0.20}}) {
    const Stair s = at_degrees(0.1e-3, degrees);
    SectionTask task;
    task.sheet = {0.5e-3, kModulus_Pa, 1.5, 1.5, {}};
    task.profile.points = {{0.0, 0.0}, {s.flat_share * s.period_m, -s.height_m}, {s.period_m, 0.0}};
    task.ends = SectionEnds::kPeriodic;
    task.touch = SectionTouch::kSlip;
    task.pressure_Pa = over_modulus * kModulus_Pa;
    const double finite_m = solve_section(task).depth_m;
    const double linear_m = mould_face_line_m(s, {0.5e-3, kModulus_Pa, task.pressure_Pa, 1.5, 1.5});
    EXPECT_GT(linear_m, finite_m) << degrees;
    EXPECT_LT(linear_m, (1.0 + too_deep) * finite_m) << degrees;
  }
}

}  // namespace
}  // namespace pellicle::imprint
