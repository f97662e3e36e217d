// Does a patch lie where the case says, and is the relief of a mould what was put on a smooth shape?
#include "solver/relief_patch.h"

#include "mesh/check.h"
#include "mesh/shapes.h"

#include <gtest/gtest.h>

#include <Eigen/Geometry>
#include <cmath>
#include <functional>
#include <numbers>

namespace pellicle {
namespace {

using mesh::Vec2;
using mesh::Vec3;

/// A surface z(x, y) over a square about the origin, on a grid.
mould::RigidMould surface(const std::function<double(double, double)>& z_m, double side_m, int n) {
  mesh::TriangleMesh mesh;
  for (int j = 0; j <= n; ++j)
    for (int i = 0; i <= n; ++i) {
      const double x = side_m * (static_cast<double>(i) / n - 0.5), y = side_m * (static_cast<double>(j) / n - 0.5);
      mesh.points_m.emplace_back(x, y, z_m(x, y));
    }
  for (int j = 0; j < n; ++j)
    for (int i = 0; i < n; ++i) {
      const int a = j * (n + 1) + i, c = a + n + 2;
      mesh.triangles.push_back({a, a + 1, c});
      mesh.triangles.push_back({a, c, a + n + 1});
    }
  return {std::move(mesh), false};
}

imprint::ReliefSpec spec_at(const Vec2& at_m, double angle_rad, double grid_m) {
  imprint::ReliefSpec spec;
  spec.name = "title";
  spec.at_m = at_m;
  spec.angle_rad = angle_rad;
  spec.grid_m = grid_m;
  return spec;
}

TEST(FrameOnMould, IsTheTiltedPlaneItLiesOn) {
  const mould::RigidMould mould = surface([](double x, double y) { return 5e-3 + 0.2 * x - 0.1 * y; }, 0.06, 6);
  for (const double angle : {0.0, 0.5 * std::numbers::pi, 1.0}) {
    const imprint::PatchFrame f = frame_on_mould(mould, spec_at({4e-3, -2e-3}, angle, 2e-5), {12e-3, 8e-3});
    const Vec3 normal = Vec3(-0.2, 0.1, 1.0).normalized();
    // Round-off of coordinates of 0.06 m, and of a fit to 225 places.
    EXPECT_LT((f.normal - normal).norm(), 1e-12);
    EXPECT_LT((f.place(6e-3, 4e-3, 0.0) - Vec3(4e-3, -2e-3, 5e-3 + 0.8e-3 + 0.2e-3)).norm(), 1e-15);
    EXPECT_LT((f.along_x.cross(f.along_y) - normal).norm(), 1e-12);
    // x stays above the direction of the angle, brought down along the normal.
    const Vec3 direction{std::cos(angle), std::sin(angle), 0.0};
    EXPECT_NEAR(f.along_x.dot(direction.cross(normal)), 0.0, 1e-12);
    EXPECT_GT(f.along_x.dot(direction), 0.9);
    EXPECT_NEAR(f.along_x.norm(), 1.0, 1e-15);
    EXPECT_EQ(f.width_m, 12e-3);
    EXPECT_EQ(f.length_m, 8e-3);
  }
}

TEST(FrameOnMould, WithoutAMouldItIsThePlatformsPlane) {
  const mould::RigidMould none(std::nullopt, false);
  const imprint::PatchFrame f = frame_on_mould(none, spec_at({1e-3, 2e-3}, 0.0, 2e-5), {4e-3, 2e-3});
  EXPECT_LT((f.corner_m - Vec3(-1e-3, 1e-3, 0.0)).norm(), 1e-18);
  EXPECT_LT((f.normal - Vec3::UnitZ()).norm(), 1e-15);
}

TEST(FrameOnMould, APatchBesideTheMouldIsRefusedByName) {
  const mould::RigidMould mould(mesh::box({-0.02, -0.01, 0.0}, {0.02, 0.01, 0.004}), true);
  const auto fault = [&](const Vec2& at_m) -> Fault {
    try {
      frame_on_mould(mould, spec_at(at_m, 0.0, 2e-5), {10e-3, 6e-3});
    } catch (const Error& error) {
      return error.fault();
    }
    ADD_FAILURE() << "was taken";
    return {};
  };
  EXPECT_EQ(fault({17e-3, 0.0}).where, "relief 'title', at");
  EXPECT_EQ(fault({17e-3, 0.0}).kind, Fault::Kind::kGeometry);
  EXPECT_NE(fault({17e-3, 0.0}).found.find("20 % of it beside the mould"), std::string::npos)
      << fault({17e-3, 0.0}).found;  // 3 of the 15 columns lie beyond x = 20 mm
  EXPECT_NE(fault({50e-3, 0.0}).found.find("100 %"), std::string::npos);
  EXPECT_NO_THROW(frame_on_mould(mould, spec_at({14e-3, 6e-3}, 0.0, 2e-5), {10e-3, 6e-3}));
}

/// Stripes 0.4 mm wide, 1.6 mm apart, along y, on a slope; heights of the grid's own points, so that walls are one
/// cell.
double stripes(double x, double y, double height_m) {
  const double phase = x / 1.6e-3 - std::floor(x / 1.6e-3);
  return 4e-3 + 0.05 * x + 0.02 * y + (phase > 0.3 && phase < 0.55 ? height_m : 0.0);
}

TEST(ReliefOfMould, IsWhatStandsOnOrIsSunkIntoTheSmoothShape) {
  int checked = 0;
  for (const double height_m : {0.25e-3, -0.25e-3}) {
    const mould::RigidMould mould =
        surface([&](double x, double y) { return stripes(x, y, height_m); }, 20e-3, 400);  // a point every 0.05 mm
    imprint::ReliefSpec spec = spec_at({1e-3, -1e-3}, 0.0, 0.05e-3);
    spec.size_m = Vec2(8e-3, 3e-3);
    const PlacedRelief placed = relief_of_mould(mould, spec, 0.5e-3);
    const auto& map = std::get<mesh::HeightMap>(placed.shape);
    ASSERT_EQ(map.nx, 160);
    ASSERT_EQ(map.ny, 60);
    int land = 0, full = 0;
    for (int j = 0; j < map.ny; ++j)
      for (int i = 0; i < map.nx; ++i) {
        const double x = (i + 0.5) * map.spacing_m, y = (j + 0.5) * map.spacing_m;
        const Vec3 p = placed.frame.place(x, y, map.at(i, j) + placed.carrier->at(i, j));
        // Carrier and relief make the mould again, to round-off.
        const auto hit = mould.surface()->ray({p.x(), p.y(), 0.02}, -Vec3::UnitZ());
        ASSERT_TRUE(hit.has_value());
        EXPECT_NEAR(p.z(), 0.02 - hit->t_m, 1e-14);
        land += std::fabs(map.at(i, j)) < 0.01e-3;
        full += std::fabs(map.at(i, j) - height_m) < 0.01e-3;
      }
    // A quarter of the patch is stroke, less the walls: one cell on either side of it, of 32 a pitch. The tilt that is
    // taken out is that of the land.
    EXPECT_NEAR(static_cast<double>(full) / (map.nx * map.ny), 7.0 / 32.0, 1.5 / 32.0) << height_m;
    EXPECT_NEAR(static_cast<double>(land) / (map.nx * map.ny), 23.0 / 32.0, 1.5 / 32.0) << height_m;
    ++checked;
  }
  EXPECT_EQ(checked, 2);
}

TEST(ReliefOfMould, HeavyLettersCloseTogetherAreNotTakenForABlockWithHoles) {
  // Three bars 1 mm wide and 0.4 mm apart: more ink than gap between the first and the last.
  int checked = 0;
  for (const double height_m : {0.3e-3, -0.3e-3}) {
    const auto is_ink = [](double x, double y) {
      const double from_first = x + 1.9e-3;
      const double in_pitch = from_first - 1.4e-3 * std::floor(from_first / 1.4e-3);
      return from_first > 0.0 && from_first < 3.8e-3 && in_pitch < 1e-3 && std::fabs(y) < 2e-3;
    };
    const mould::RigidMould mould =
        surface([&](double x, double y) { return 4e-3 + (is_ink(x, y) ? height_m : 0.0); }, 16e-3, 320);
    imprint::ReliefSpec spec = spec_at({0.0, 0.0}, 0.0, 0.05e-3);
    spec.size_m = Vec2(8e-3, 8e-3);
    const PlacedRelief placed = relief_of_mould(mould, spec, 0.6e-3);
    const auto& map = std::get<mesh::HeightMap>(placed.shape);
    const double ink = 3.0 * 1.0 * 4.0 / 64.0;
    // Volume of the bars to their walls, which the facets widen by up to a cell of 0.05 mm all round.
    EXPECT_NEAR(mesh::volume_m3(map) / (64e-6 * height_m), ink, 3.0 * 10.0 * 0.05 / 64.0) << height_m;
    const double wrong_way_m = height_m > 0.0 ? -mesh::lowest_m(map) : mesh::highest_m(map);
    EXPECT_LT(wrong_way_m, 1e-12) << "the gaps are land";
    ++checked;
  }
  EXPECT_EQ(checked, 2);
}

TEST(ReliefOfMould, AWideStepIsShapeAndNoRelief) {
  const mould::RigidMould mould = surface([](double x, double) { return x < 0.0 ? 4e-3 : 4.3e-3; }, 20e-3, 400);
  imprint::ReliefSpec spec = spec_at({0.0, 0.0}, 0.3, 0.05e-3);
  spec.size_m = Vec2(8e-3, 6e-3);
  const PlacedRelief placed = relief_of_mould(mould, spec, 0.5e-3);
  const auto& map = std::get<mesh::HeightMap>(placed.shape);
  // The wall is one facet wide, and an octagon cuts its straight edge nowhere by more than round-off.
  EXPECT_LT(mesh::highest_m(map), 1e-12);
  EXPECT_GT(mesh::lowest_m(map), -1e-12);
}

TEST(ReliefOfMould, OverhangIsAnErrorOrLand) {
  const mould::RigidMould mould(mesh::box({-0.02, -0.01, 0.0}, {0.02, 0.01, 0.004}), true);
  imprint::ReliefSpec spec = spec_at({18e-3, 0.0}, 0.0, 0.1e-3);
  spec.size_m = Vec2(6e-3, 4e-3);
  EXPECT_THROW(relief_of_mould(mould, spec, 0.5e-3), Error);
  const PlacedRelief placed = relief_of_mould(mould, spec, 0.5e-3, true);
  const auto& map = std::get<mesh::HeightMap>(placed.shape);
  EXPECT_LT(mesh::highest_m(map) - mesh::lowest_m(map), 1e-15);
  EXPECT_NEAR(placed.frame.place(3e-3, 2e-3, 0.0).z(), 4e-3, 1e-15);
  spec.size_m = Vec2(0.6, 0.4);
  spec.grid_m = 1e-5;
  EXPECT_THROW(relief_of_mould(mould, spec, 0.5e-3), Error) << "too many cells";
}

}  // namespace
}  // namespace pellicle
