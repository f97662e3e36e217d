// Does a coarser mould stay where it was? Against the surface it was made from, and counted by hand.
#include "io/report/coarsened.h"

#include <gtest/gtest.h>
#include <Eigen/Geometry>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace pellicle::report {
namespace {

using mesh::Vec3;

/// A ball of 2 x rings^2 triangles or so, by rings and sectors; closed.
mesh::TriangleMesh ball(double radius_m, int rings) {
  mesh::TriangleMesh out;
  const int sectors = 2 * rings;
  out.points_m = {{0.0, 0.0, radius_m}, {0.0, 0.0, -radius_m}};
  const auto at = [&](int ring, int sector) { return 2 + (ring - 1) * sectors + sector % sectors; };
  for (int i = 1; i < rings; ++i)
    for (int j = 0; j < sectors; ++j) {
      const double polar = std::numbers::pi * i / rings, around = 2.0 * std::numbers::pi * j / sectors;
      out.points_m.emplace_back(
          radius_m * Vec3(std::sin(polar) * std::cos(around), std::sin(polar) * std::sin(around), std::cos(polar)));
    }
  for (int j = 0; j < sectors; ++j) {
    out.triangles.push_back({0, at(1, j), at(1, j + 1)});
    out.triangles.push_back({1, at(rings - 1, j + 1), at(rings - 1, j)});
    for (int i = 1; i + 1 < rings; ++i) {
      out.triangles.push_back({at(i, j), at(i + 1, j), at(i + 1, j + 1)});
      out.triangles.push_back({at(i, j), at(i + 1, j + 1), at(i, j + 1)});
    }
  }
  return out;
}

double volume_m3(const mesh::TriangleMesh& mesh) {
  double six = 0.0;
  for (const mesh::Triangle& t : mesh.triangles) {
    const auto point = [&](int k) { return mesh.points_m[static_cast<std::size_t>(t[static_cast<std::size_t>(k)])]; };
    six += point(0).dot(point(1).cross(point(2)));
  }
  return six / 6.0;
}

TEST(Coarsened, FewTrianglesStayAsTheyAre) {
  const mesh::TriangleMesh mesh = ball(5e-3, 10);
  const Coarsened same = coarsened(mesh, mesh.triangles.size());
  EXPECT_EQ(same.cell_m, 0.0);
  EXPECT_EQ(same.surface.points_m, mesh.points_m);
  EXPECT_EQ(same.surface.triangles, mesh.triangles);
}

TEST(Coarsened, ManyBecomeFewAndStayWhereTheyWere) {
  constexpr double kRadius_m = 5e-3;
  const mesh::TriangleMesh mesh = ball(kRadius_m, 120);
  ASSERT_GT(mesh.triangles.size(), 50'000u);
  const Coarsened few = coarsened(mesh, 4000);
  ASSERT_GT(few.cell_m, 0.0);
  EXPECT_LE(few.surface.triangles.size(), 4000u);
  EXPECT_GT(few.surface.triangles.size(), 1300u) << "cells a fifth larger have 1.44 times fewer triangles";
  EXPECT_LT(few.surface.points_m.size(), mesh.points_m.size() / 5);
  // The mean of points in a cell of edge c lies within it, so at most c times the root of 3 from the ball.
  double farthest_m = 0.0;
  for (const Vec3& p : few.surface.points_m) farthest_m = std::max(farthest_m, std::abs(p.norm() - kRadius_m));
  EXPECT_GT(farthest_m, 0.0);
  EXPECT_LT(farthest_m, std::sqrt(3.0) * few.cell_m);
  // Means lie inside the ball by about c^2 / (8 R) and chords as much again: some 1 % of the volume with these cells.
  EXPECT_NEAR(volume_m3(few.surface) / volume_m3(mesh), 1.0, 0.02);
}

TEST(Coarsened, SameNumbersSameSurface) {
  const mesh::TriangleMesh mesh = ball(5e-3, 40);
  const Coarsened one = coarsened(mesh, 500), other = coarsened(mesh, 500);
  EXPECT_EQ(one.surface.points_m, other.surface.points_m);
  EXPECT_EQ(one.surface.triangles, other.surface.triangles);
}

}  // namespace
}  // namespace pellicle::report
