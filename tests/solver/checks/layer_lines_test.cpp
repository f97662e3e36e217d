// Do layer lines come out where the mould has steps, as the press says, and is the best build direction the one that is
// known?
#include "solver/checks/layer_lines.h"

#include "mesh/shapes.h"

#include <gtest/gtest.h>
#include <omp.h>

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <numbers>

namespace pellicle::checks {
namespace {

using mesh::Vec2;
using mesh::Vec3;

constexpr double kDegree = std::numbers::pi / 180.0;
constexpr double kModulus_Pa = 0.45e6, kBought_m = 0.75e-3, kPressure_Pa = 0.4e6;

/// A sheet on the top of a slab that is tilted about y; x runs up its slope, where it is stretched by `up`, by `level`
/// across.
struct Tilted {
  forming::FormingResult sheet;
  std::vector<char> in_part;
  imprint::Screening detail;
  SheetSpec spec{};
  mould::RigidMould mould;

  static Eigen::AngleAxisd turn(double degrees) { return {-degrees * kDegree, Vec3::UnitY()}; }
  static mesh::TriangleMesh slab(double degrees) {
    mesh::TriangleMesh box = mesh::box({-10e-3, -10e-3, -5e-3}, {10e-3, 10e-3, 0.0});
    for (Vec3& p : box.points_m) p = turn(degrees) * p;
    return box;
  }

  /// lean_degrees: of the sheet from the slab, about its middle.
  explicit Tilted(double degrees, double up = 1.4, double level = 1.1, double lean_degrees = 0.0)
      : mould(slab(degrees), false) {
    constexpr int kSide = 8;
    spec.law = sheet::NeoHookean{kModulus_Pa};
    sheet.bought_thickness_m = kBought_m;
    for (int j = 0; j <= kSide; ++j)
      for (int i = 0; i <= kSide; ++i) {
        const double x = (i - kSide / 2) * 1e-3, y = (j - kSide / 2) * 1e-3;
        sheet.flat_m.emplace_back(x / up, y / level);
        sheet.points_m.push_back(turn(degrees + lean_degrees) * Vec3(x, y, 0.0));
        if (i == kSide || j == kSide) continue;
        const int a = j * (kSide + 1) + i, c = a + kSide + 2;
        sheet.triangles.push_back({a, a + 1, c});
        sheet.triangles.push_back({a, c, a + kSide + 1});
      }
    const std::size_t n = sheet.points_m.size();
    sheet.touching.assign(n, 1);
    sheet.pressure_since_Pa.assign(n, kPressure_Pa);
    sheet.triangle_thickness_m.assign(sheet.triangles.size(), kBought_m / (up * level));
    in_part.assign(n, 1);
  }
  Formed formed() const { return {sheet, detail, mould, spec, in_part}; }
  LayerLineField field(const Print& print) const { return layer_line_field(sheet, mould, print, kModulus_Pa); }
};

// All of the way from nodes to micrometres, against the press on the steps put in by hand; 2 % of the height is the
// table's. Swapped stretches would be off by more than four times that.
TEST(LayerLineField, IsThePressOnTheSlope) {
  constexpr double kAngle = 25.0, kLayer_m = 0.1e-3;
  const Tilted tilted(kAngle);
  const LayerLineField field = tilted.field({kLayer_m});
  const imprint::Stair s{kLayer_m / std::sin(kAngle * kDegree), kLayer_m * std::cos(kAngle * kDegree),
                         std::pow(std::cos(kAngle * kDegree), 2)};
  const auto pressed = [&](double up, double level) {
    return imprint::pressed_layer_lines(s, {kBought_m / (up * level), kModulus_Pa, kPressure_Pa, up, level}, 256);
  };
  const imprint::LayerLines expected = pressed(1.4, 1.1);
  ASSERT_EQ(field.mould_face_m.size(), tilted.sheet.points_m.size());
  for (std::size_t i = 0; i < field.mould_face_m.size(); ++i) {
    ASSERT_NEAR(field.mould_face_m[i], expected.mould_face_m, 0.02 * s.height_m) << i;
    ASSERT_NEAR(field.free_face_m[i], expected.free_face_m, 0.02 * s.height_m) << i;
  }
  EXPECT_GT(expected.mould_face_m, 0.3 * s.height_m);
  EXPECT_GT(pressed(1.1, 1.4).mould_face_m, expected.mould_face_m + 0.08 * s.height_m);
  // Built along y, the slope is upright: no lines. Its normal: flat, none.
  for (const Vec3& none : {Vec3(Vec3::UnitY()), Vec3(Tilted::turn(kAngle) * Vec3::UnitZ())}) {
    const LayerLineField other = tilted.field({kLayer_m, none});
    EXPECT_EQ(*std::max_element(other.mould_face_m.begin(), other.mould_face_m.end()), 0.0);
  }
}

TEST(LayerLineField, OnlyWhereTheSheetLiesOnThePrint) {
  const Print print{0.1e-3};
  const auto count = [&](const Tilted& t) {
    const LayerLineField f = t.field(print);
    return std::count_if(f.mould_face_m.begin(), f.mould_face_m.end(), [](double v) { return !std::isnan(v); });
  };
  Tilted lifted(25.0);
  EXPECT_EQ(count(lifted), 81);
  lifted.sheet.touching[40] = 0;  // the middle node: its six triangles are out, the nodes around still have others
  EXPECT_EQ(count(lifted), 80);
  for (Vec3& p : lifted.sheet.points_m) p += Tilted::turn(25.0) * Vec3(0.0, 0.0, 0.11 * kBought_m);
  EXPECT_EQ(count(lifted), 0);
  // Leaning by 40 degrees it bridges something, though its middle row touches; by 1 degree it lies.
  EXPECT_EQ(count(Tilted(25.0, 1.4, 1.1, 40.0)), 0);
  EXPECT_EQ(count(Tilted(25.0, 1.4, 1.1, 1.0)), 81);
  // The platform is no print.
  const Tilted flat(0.0);
  const mould::RigidMould platform(std::nullopt, true);
  EXPECT_TRUE(lying_on(flat.sheet, platform).empty());
}

/// One piece of sheet on a facet of the mould.
Lying facet(const Vec3& normal, double area_m2 = 1e-6, double pressure_Pa = kPressure_Pa) {
  return {.triangle = 0,
          .mould_normal = normal,
          .face_width_m = 10e-3,
          .sheet_normal = normal,
          .stretch = Eigen::Matrix3d::Identity() - normal * normal.transpose(),
          .area_m2 = area_m2,
          .thickness_m = 0.5e-3,
          .area_ratio = 1.0,
          .pressure_Pa = pressure_Pa};
}

Vec3 towards(double from_z_degrees, double from_x_degrees) {
  const double a = from_z_degrees * kDegree, b = from_x_degrees * kDegree;
  return {std::sin(a) * std::cos(b), std::sin(a) * std::sin(b), std::cos(a)};
}

/// Side of a round mould whose normal leans this far from its axis, in flats of a degree.
std::vector<Lying> round_side(double from_axis_degrees) {
  std::vector<Lying> all;
  for (int i = 0; i < 360; ++i) all.push_back(facet(towards(from_axis_degrees, i)));
  return all;
}

TEST(FaceWidth, IsThatOfTheBoxesFacesAndNarrowOnesCarryNoPattern) {
  const mesh::Nearest box(mesh::box({0.0, 0.0, 0.0}, {20e-3, 0.5e-3, 5e-3}));
  const std::vector<double> width_m = face_widths_m(box);
  ASSERT_EQ(width_m.size(), 12U);
  for (int t = 0; t < 12; ++t) {
    const Vec3 n = box.normal(t).cwiseAbs();
    const double a = n.x() > 0.5 ? 5.0 : 20.0, b = n.y() > 0.5 ? 5.0 : 0.5;
    EXPECT_NEAR(width_m[static_cast<std::size_t>(t)], 1e-3 * a * b / (a + b), 1e-12) << n.transpose();
  }
  // 10 degrees, layers of 0.1 mm: a step every 0.576 mm.
  Lying strip = facet(towards(10.0, 0.0));
  strip.face_width_m = 0.57e-3;
  EXPECT_FALSE(pressing(strip, {0.1e-3}, kModulus_Pa).has_value());
  strip.face_width_m = 0.58e-3;
  EXPECT_TRUE(pressing(strip, {0.1e-3}, kModulus_Pa).has_value());
  // A ball is cut into faces some four degrees wide; half of that is 2 degrees' length, to a factor of two.
  const std::vector<double> ball = face_widths_m(mesh::Nearest(mesh::sphere(Vec3::Zero(), 10e-3, 5)));
  std::vector<double> sorted = ball;
  std::sort(sorted.begin(), sorted.end());
  const double middle_m = sorted[sorted.size() / 2], wide_m = 2.0 * kDegree * 10e-3;
  EXPECT_GT(middle_m, 0.5 * wide_m);
  EXPECT_LT(middle_m, 2.0 * wide_m);
}

TEST(BestDirection, APlateIsPrintedFlatOrUpright) {
  const std::vector<Lying> plate(50, facet(towards(23.0, 40.0)));
  const Print leaning{0.05e-3};
  EXPECT_GT(measure(plate, leaning, kModulus_Pa).mean_m, 10e-6);
  const DirectionMeasure best = best_direction(plate, leaning, kModulus_Pa);
  EXPECT_EQ(best.mean_m, 0.0);
  EXPECT_EQ(best.high_m, 0.0);
  const double cosine = std::fabs(best.direction.dot(towards(23.0, 40.0)));
  EXPECT_TRUE(cosine > 1.0 - 1e-9 || cosine < 1e-9) << cosine;
  // Level in the mould's coordinates and printed askew: every direction of its plane is as good, to round-off.
  const std::vector<Lying> level(64, facet(Vec3::UnitZ()));
  EXPECT_EQ(best_direction(level, {0.1e-3, towards(30.0, 0.0)}, kModulus_Pa).score_m(), 0.0);
  // Already flat, it stays as it is.
  const Print flat{0.05e-3, towards(23.0, 40.0)};
  EXPECT_NEAR(best_direction(plate, flat, kModulus_Pa).direction.dot(flat.build_direction), 1.0, 1e-12);
}

TEST(BestDirection, OfARoofIsItsRidgeAndOfACylinderItsAxis) {
  std::vector<Lying> roof;
  const Vec3 ridge = towards(70.0, 15.0);
  const Vec3 up = ridge.unitOrthogonal(), side = ridge.cross(up);
  for (const double lean : {-40.0, 35.0, 10.0, -15.0})
    roof.push_back(facet(std::cos(lean * kDegree) * up + std::sin(lean * kDegree) * side));
  const DirectionMeasure best = best_direction(roof, {0.05e-3}, kModulus_Pa);
  EXPECT_NEAR(std::fabs(best.direction.dot(ridge)), 1.0, 1e-4);  // within the last step of a quarter degree, twice
  EXPECT_LT(best.mean_m, 0.01 * 0.05e-3);
  const DirectionMeasure axis = best_direction(round_side(90.0), {0.05e-3, Vec3::UnitX()}, kModulus_Pa);
  EXPECT_LT(axis.mean_m, 1e-12);
  EXPECT_NEAR(axis.direction.z(), 1.0, 1e-9);
}

// No build direction of a cone but its axis is told apart by symmetry: the measure may depend on the angle from the
// axis alone, so a walk down one meridian in steps of half a degree sees all there is.
TEST(BestDirection, OfAConeIsTheBestOfItsMeridian) {
  for (const double from_axis : {85.0, 60.0, 30.0}) {
    const std::vector<Lying> cone = round_side(from_axis);
    double least = 1.0;
    for (double a = 0.0; a <= 90.0; a += 0.5)
      least = std::min(least, measure(cone, {0.05e-3, towards(a, 0.0)}, kModulus_Pa).score_m());
    // Flats of a degree make the measure wavy around the axis: 0.3 % between two meridians.
    const double here = measure(cone, {0.05e-3, towards(50.0, 0.0)}, kModulus_Pa).score_m();
    EXPECT_NEAR(measure(cone, {0.05e-3, towards(50.0, 33.3)}, kModulus_Pa).score_m(), here, 0.003 * here);
    const DirectionMeasure best = best_direction(cone, {0.05e-3}, kModulus_Pa);
    EXPECT_LE(best.score_m(), 1.003 * least) << from_axis;
    EXPECT_GT(best.score_m(), 0.9 * least) << from_axis;
    EXPECT_LE(best.score_m(), measure(cone, {0.05e-3}, kModulus_Pa).score_m());
  }
}

TEST(BestDirection, MeasureIsTheMeanAndTheHighEndByArea) {
  std::vector<Lying> two{facet(towards(30.0, 0.0), 9.0), facet(towards(60.0, 90.0), 1.0)};
  const Print print{0.05e-3};
  const double a = measure({two[0]}, print, kModulus_Pa).mean_m, b = measure({two[1]}, print, kModulus_Pa).mean_m;
  ASSERT_GT(a, b);
  EXPECT_NEAR(measure(two, print, kModulus_Pa).mean_m, 0.9 * a + 0.1 * b, 1e-12);
  EXPECT_EQ(measure(two, print, kModulus_Pa).high_m, a);
  two[0].area_m2 = 0.4;  // 4 % of the area: above the 95 %
  two[1].area_m2 = 9.6;
  EXPECT_EQ(measure(two, print, kModulus_Pa).high_m, b);
}

TEST(BestDirection, AndFieldAreTheSameForAnyThreads) {
  std::vector<Lying> many;  // more than the search looks at
  for (int i = 0; i < 1500; ++i) many.push_back(facet(towards(10.0 + 0.05 * i, 7.0 * i), 1.0 + 0.1 * (i % 7)));
  const Tilted tilted(25.0);
  const int before = omp_get_max_threads();
  omp_set_num_threads(1);
  const DirectionMeasure one = best_direction(many, {0.1e-3}, kModulus_Pa);
  const LayerLineField alone = tilted.field({0.1e-3});
  int compared = 0;
  for (const int threads : {2, 3, 5}) {
    omp_set_num_threads(threads);
    const DirectionMeasure other = best_direction(many, {0.1e-3}, kModulus_Pa);
    EXPECT_EQ(one.direction, other.direction);
    EXPECT_EQ(one.mean_m, other.mean_m);
    const LayerLineField together = tilted.field({0.1e-3});
    EXPECT_EQ(alone.mould_face_m, together.mould_face_m);
    EXPECT_EQ(alone.free_face_m, together.free_face_m);
    ++compared;
  }
  omp_set_num_threads(before);
  EXPECT_EQ(compared, 3);
  EXPECT_LT(one.score_m(), measure(many, {0.1e-3}, kModulus_Pa).score_m());
}

TEST(LayerLinesFinding, TellsTheWorstPlaceOfThePartAndJudgesByTheLimit) {
  Tilted tilted(25.0);
  const Print print{0.1e-3};
  const double expected_um = 1e6 * tilted.field(print).mould_face_m[0];
  // Pressed harder round one corner: it is the worst place, until it is trimmed off.
  tilted.sheet.pressure_since_Pa[0] *= 4.0;
  const Finding worst = layer_lines(tilted.formed(), print, 5e-6);
  EXPECT_GT(worst.value, expected_um);
  ASSERT_TRUE(worst.place_m.has_value());
  EXPECT_LT((*worst.place_m - tilted.sheet.points_m[0]).norm(), 1e-3);
  EXPECT_EQ(worst.verdict, Verdict::kFail);
  EXPECT_EQ(worst.limit, 5.0);
  EXPECT_NE(worst.why.find("25 degrees from the build plane"), std::string::npos) << worst.why;
  EXPECT_NE(worst.why.find("free face"), std::string::npos) << worst.why;
  // The slab alone, built as it lies, has no steps: the advice names that direction or one along it.
  EXPECT_NE(worst.advice.find("or build along"), std::string::npos) << worst.advice;
  tilted.in_part[0] = 0;
  const Finding trimmed = layer_lines(tilted.formed(), print, 5e-6);
  EXPECT_NEAR(trimmed.value, expected_um, 1e-9 * expected_um);
  EXPECT_EQ(layer_lines(tilted.formed(), print, 1.01e-6 * expected_um).verdict, Verdict::kPass);
  EXPECT_EQ(layer_lines(tilted.formed(), print, 0.99e-6 * expected_um).verdict, Verdict::kFail);
  EXPECT_EQ(layer_lines(tilted.formed(), Print{0.01e-3}, 10e-6).verdict, Verdict::kPass);  // 9 um high at most
}

TEST(LayerLinesFinding, IsInDoubtWhereTheModulusBandSpansTheLimit) {
  Tilted tilted(25.0);
  const Print print{0.1e-3};
  const double likely_m = 1e-6 * layer_lines(tilted.formed(), print, 1e-6).value;
  tilted.spec.shear_modulus_Pa = Estimate{kModulus_Pa, 0.2e6, 1e6};
  const auto verdict = [&](double limit_m) { return layer_lines(tilted.formed(), print, limit_m).verdict; };
  EXPECT_EQ(verdict(1.05 * likely_m), Verdict::kDoubt);
  EXPECT_EQ(verdict(0.95 * likely_m), Verdict::kDoubt);
  EXPECT_EQ(verdict(0.1e-3), Verdict::kPass);  // no line is higher than the layer
  EXPECT_EQ(verdict(0.1 * likely_m), Verdict::kFail);
}

TEST(LayerLinesFinding, WithoutALimitThickLayersAreInDoubtAndFineOnesAreNot) {
  const Tilted tilted(25.0);
  EXPECT_EQ(layer_lines(tilted.formed(), Print{0.05e-3}, {}).verdict, Verdict::kPass);
  const Finding thick = layer_lines(tilted.formed(), Print{0.1e-3}, {});
  EXPECT_EQ(thick.verdict, Verdict::kDoubt);
  EXPECT_FALSE(thick.limit.has_value());
  EXPECT_NE(thick.why.find("common practice"), std::string::npos);
  const Finding flat = layer_lines(Tilted(0.0).formed(), Print{0.1e-3}, {});
  EXPECT_EQ(flat.value, 0.0);
  EXPECT_FALSE(flat.place_m.has_value());
  EXPECT_EQ(flat.verdict, Verdict::kPass);
  const Finding unknown = layer_lines(tilted.formed(), std::nullopt, 5e-6);
  EXPECT_TRUE(std::isnan(unknown.value));
  EXPECT_EQ(unknown.verdict, Verdict::kDoubt);
  Tilted away(25.0);
  std::fill(away.sheet.touching.begin(), away.sheet.touching.end(), 0);
  EXPECT_TRUE(std::isnan(layer_lines(away.formed(), Print{0.1e-3}, {}).value));
}

}  // namespace
}  // namespace pellicle::checks
