// Is the sheet's state over a patch that of a sheet made by hand, and of a brute-force count?
#include "solver/imprint/local_state.h"

#include <Eigen/Geometry>

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <numbers>

namespace pellicle::imprint {
namespace {

using mesh::Vec2;
using mesh::Vec3;

constexpr double kLarger = 1.6, kSmaller = 1.2, kAngle_rad = 0.4, kModulus_Pa = 0.3e6;

/// A sheet of 40 x 40 mm as bought, in squares of 2 mm cut in two, stretched as said along axes at an angle, at z = 5
/// mm. Its right half (x > 0) touches.
forming::FormingResult made() {
  forming::FormingResult f;
  const Eigen::Rotation2D<double> turn(kAngle_rad);
  const Eigen::Matrix2d F =
      turn.toRotationMatrix() * Vec2(kLarger, kSmaller).asDiagonal() * turn.toRotationMatrix().transpose();
  constexpr int n = 20;
  for (int j = 0; j <= n; ++j)
    for (int i = 0; i <= n; ++i) {
      const Vec2 flat(2e-3 * (i - n / 2), 2e-3 * (j - n / 2)), now = F * flat;
      f.flat_m.push_back(flat);
      f.points_m.emplace_back(now.x(), now.y(), 5e-3);
      const bool touches = now.x() > 0.0;
      f.touching.push_back(touches);
      f.touched_s.push_back(touches ? 0.1 : std::numeric_limits<double>::quiet_NaN());
      f.pressure_since_Pa.push_back(touches ? 2e5 + 1e7 * now.x() : std::numeric_limits<double>::quiet_NaN());
    }
  for (int j = 0; j < n; ++j)
    for (int i = 0; i < n; ++i) {
      const int a = j * (n + 1) + i, b = a + 1, c = a + n + 1, d = c + 1;
      for (const mesh::Triangle& t : {mesh::Triangle{a, b, d}, {a, d, c}}) {
        f.triangles.push_back(t);
        f.triangle_thickness_m.push_back(1e-3 + 1e-5 * (i + j));
      }
    }
  return f;
}

PatchFrame frame(double x_m, double y_m, double angle_rad, double width_m, double length_m) {
  PatchFrame p;
  p.corner_m = {x_m, y_m, 5e-3};
  p.along_x = {std::cos(angle_rad), std::sin(angle_rad), 0.0};
  p.along_y = {-std::sin(angle_rad), std::cos(angle_rad), 0.0};
  p.width_m = width_m, p.length_m = length_m;
  return p;
}

/// Means over 400 x 400 places of the patch, each looked up in the triangle it lies over.
struct Counted {
  double thickness_m = 0.0, touching = 0.0, pressure_Pa = 0.0;
  int places = 0;
};
Counted count(const forming::FormingResult& f, const PatchFrame& p) {
  constexpr int n = 400;
  Counted c;
  double pressed = 0.0;
  for (int j = 0; j < n; ++j)
    for (int i = 0; i < n; ++i) {
      const Vec3 q = p.place((i + 0.5) * p.width_m / n, (j + 0.5) * p.length_m / n, 0.0);
      for (std::size_t m = 0; m < f.triangles.size(); ++m) {
        const auto node = [&](std::size_t k) { return static_cast<std::size_t>(f.triangles[m][k]); };
        const Vec3 &a = f.points_m[node(0)], &b = f.points_m[node(1)], &d = f.points_m[node(2)];
        Eigen::Matrix2d edges;
        edges << (b - a).head<2>(), (d - a).head<2>();
        const Vec2 in = edges.inverse() * (q - a).head<2>();
        if (in.x() < 0.0 || in.y() < 0.0 || in.sum() >= 1.0) continue;
        const double share[] = {1.0 - in.sum(), in.x(), in.y()};
        c.thickness_m += f.triangle_thickness_m[m];
        for (std::size_t k = 0; k < 3; ++k)
          if (f.touching[node(k)]) c.touching += share[k], pressed += share[k] * f.pressure_since_Pa[node(k)];
        ++c.places;
        break;
      }
    }
  c.thickness_m /= c.places, c.pressure_Pa = pressed / c.touching, c.touching /= c.places;
  return c;
}

// F is the same everywhere: b = F F^T has the squares of the stretches in its own axes, and its diagonal in those of
// the patch. Closed form, round-off.
TEST(LocalState, StretchesAreThoseOfTheLeftTensorInThePatchsAxes) {
  const auto sheet = made();
  int checked = 0;
  for (const double turn : {0.0, kAngle_rad, 1.1}) {
    const auto found = formed_state(sheet, frame(3e-3, -2e-3, turn, 9e-3, 5e-3), kModulus_Pa);
    ASSERT_TRUE(found);
    const double c = std::cos(kAngle_rad - turn), s = std::sin(kAngle_rad - turn);
    EXPECT_NEAR(found->state.stretch_x, std::hypot(kLarger * c, kSmaller * s), 1e-12);
    EXPECT_NEAR(found->state.stretch_y, std::hypot(kLarger * s, kSmaller * c), 1e-12);
    EXPECT_NEAR(found->larger_stretch_angle_rad, kAngle_rad - turn, 1e-12);
    EXPECT_EQ(found->state.shear_modulus_Pa, kModulus_Pa);
    EXPECT_FALSE(found->state.has_skin());
    ++checked;
  }
  EXPECT_EQ(checked, 3);
}

// Thickness, touch and pressure against counting, on a patch across the edge of contact and one that juts out over the
// rim of the sheet. 160,000 places miss an edge by a thousandth of the patch.
TEST(LocalState, MeansAreThoseOfCounting) {
  const auto sheet = made();
  for (const PatchFrame& patch : {frame(-4e-3, -3e-3, 0.3, 9e-3, 7e-3), frame(24e-3, 5e-3, 0.9, 20e-3, 8e-3)}) {
    const auto found = formed_state(sheet, patch, kModulus_Pa);
    ASSERT_TRUE(found);
    const Counted counted = count(sheet, patch);
    ASSERT_GT(counted.places, 10'000);
    EXPECT_NEAR(found->state.thickness_m, counted.thickness_m, 1e-3 * counted.thickness_m);
    EXPECT_NEAR(found->touching_share, counted.touching, 2e-3);
    EXPECT_NEAR(found->state.pressure_Pa, counted.pressure_Pa, 3e-3 * counted.pressure_Pa);
    EXPECT_LT(found->thickness_least_m, found->state.thickness_m);
    EXPECT_GT(found->thickness_most_m, found->state.thickness_m);
  }
}

TEST(LocalState, HalfTouchedIsPressedByWhatTouches) {
  auto sheet = made();
  for (double& p : sheet.pressure_since_Pa)
    if (!std::isnan(p)) p = 3e5;
  const auto found = formed_state(sheet, frame(-5e-3, -5e-3, 0.0, 10e-3, 10e-3), kModulus_Pa);
  ASSERT_TRUE(found);
  EXPECT_NEAR(found->state.pressure_Pa, 3e5, 1e-6);
  EXPECT_NEAR(found->touching_share, 0.5, 0.15);  // its edge runs along triangles of 2 to 3 mm
  // The same sheet sprung back: it was pressed on all the same.
  std::fill(sheet.touching.begin(), sheet.touching.end(), 0);
  const auto back = formed_state(sheet, frame(-5e-3, -5e-3, 0.0, 10e-3, 10e-3), kModulus_Pa);
  ASSERT_TRUE(back);
  EXPECT_NEAR(back->state.pressure_Pa, 3e5, 1e-6);
  EXPECT_EQ(back->touching_share, 0.0);
}

TEST(LocalState, NoneBeyondTheSheetUntouchedUnpressedFromBelowOrFarAway) {
  auto sheet = made();
  EXPECT_FALSE(formed_state(sheet, frame(60e-3, 60e-3, 0.0, 5e-3, 5e-3), kModulus_Pa));
  EXPECT_FALSE(formed_state(sheet, frame(-20e-3, -2e-3, 0.0, 5e-3, 5e-3), kModulus_Pa));
  const PatchFrame good = frame(4e-3, -2e-3, 0.0, 5e-3, 4e-3);
  EXPECT_TRUE(formed_state(sheet, good, kModulus_Pa));
  PatchFrame below = good, far = good;
  below.along_y = -below.along_y, below.normal = -below.normal;
  below.corner_m.y() += 4e-3;
  EXPECT_FALSE(formed_state(sheet, below, kModulus_Pa));
  far.corner_m.z() -= 6e-3;
  EXPECT_FALSE(formed_state(sheet, far, kModulus_Pa));
  std::fill(sheet.pressure_since_Pa.begin(), sheet.pressure_since_Pa.end(), 0.0);
  EXPECT_FALSE(formed_state(sheet, good, kModulus_Pa));
}

}  // namespace
}  // namespace pellicle::imprint
