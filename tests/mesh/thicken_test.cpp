// Is a thickened sheet closed, turned outwards and as large as it must be?
#include "mesh/thicken.h"

#include "mesh/shapes.h"

#include <gtest/gtest.h>

#include <Eigen/Geometry>

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>
#include <utility>

namespace pellicle::mesh {
namespace {

constexpr double kPi = std::numbers::pi;

/// n x n squares of one side in the plane z = 0, counter-clockwise seen from +z.
TriangleMesh square(int n, double side_m) {
  TriangleMesh face;
  for (int j = 0; j <= n; ++j)
    for (int i = 0; i <= n; ++i) face.points_m.emplace_back(side_m * i / n, side_m * j / n, 0.0);
  const auto at = [n](int i, int j) { return j * (n + 1) + i; };
  for (int j = 0; j < n; ++j) {
    for (int i = 0; i < n; ++i) {
      face.triangles.push_back({at(i, j), at(i + 1, j), at(i + 1, j + 1)});
      face.triangles.push_back({at(i, j), at(i + 1, j + 1), at(i, j + 1)});
    }
  }
  return face;
}

/// Every edge twice, once each way. Returns how many edges there are.
std::size_t expect_closed(const TriangleMesh& solid) {
  std::map<std::pair<int, int>, int> uses;
  for (const Triangle& t : solid.triangles)
    for (std::size_t k = 0; k < 3; ++k) ++uses[{t[k], t[(k + 1) % 3]}];
  for (const auto& [edge, count] : uses) {
    EXPECT_EQ(count, 1) << edge.first << " " << edge.second;
    EXPECT_EQ(uses.count({edge.second, edge.first}), 1U) << edge.first << " " << edge.second;
  }
  return uses.size() / 2;
}

TEST(Thicken, AFlatSquareIsAClosedPlateThatLooksOutwards) {
  const int n = 5;
  const double side_m = 0.04, thickness_m = 0.75e-3;
  const TriangleMesh face = square(n, side_m);
  const std::vector<double> thick(face.points_m.size(), thickness_m);
  const Thickened plate = thicken(face, thick, std::vector<char>(face.points_m.size(), 1));
  EXPECT_EQ(plate.face_triangles, 2 * n * n);
  EXPECT_EQ(plate.solid.triangles.size(), 4U * n * n + 8U * n);  // two faces, four walls of n squares
  EXPECT_EQ(expect_closed(plate.solid), 3 * plate.solid.triangles.size() / 2);
  // Euler: a solid without handles has V - E + F = 2.
  EXPECT_EQ(plate.solid.points_m.size() + plate.solid.triangles.size(), 3 * plate.solid.triangles.size() / 2 + 2);
  // Some hundred terms of the plate's own size: round-off stays below 1e-13 of it.
  EXPECT_NEAR(plate.volume_m3, side_m * side_m * thickness_m, 1e-13 * side_m * side_m * thickness_m);
  EXPECT_NEAR(plate.face_area_m2, side_m * side_m, 1e-13 * side_m * side_m);
  EXPECT_NEAR(plate.mean_thickness_m, thickness_m, 1e-13 * thickness_m);
  EXPECT_EQ(plate.turned, 0);
  // Every triangle of a convex solid looks away from its middle.
  const Vec3 middle(0.5 * side_m, 0.5 * side_m, 0.5 * thickness_m);
  for (const Triangle& t : plate.solid.triangles) {
    const auto corner = [&](std::size_t k) { return plate.solid.points_m[static_cast<std::size_t>(t[k])]; };
    EXPECT_GT((corner(1) - corner(0)).cross(corner(2) - corner(0)).dot(corner(0) - middle), 0.0);
  }
}

TEST(Thicken, AThicknessThatGrowsLinearlyGivesTheWedgeBetween) {
  const TriangleMesh face = square(4, 0.02);
  std::vector<double> thick;
  for (const Vec3& p : face.points_m) thick.push_back(0.5e-3 + 0.05 * p.x());
  const Thickened wedge = thicken(face, thick, std::vector<char>(face.points_m.size(), 1));
  EXPECT_NEAR(wedge.mean_thickness_m, 1e-3, 1e-13 * 1e-3);  // in the middle; round-off as above
  EXPECT_NEAR(wedge.volume_m3, 0.02 * 0.02 * 1e-3, 1e-13 * 0.02 * 0.02 * 1e-3);
}

TEST(Thicken, ASphereGrowsToTheShellBetweenTwoSpheres) {
  // Without a rim. Of either sphere the polyhedron of 4 subdivisions lacks 0.22 %, and so of the shell; 0.3 % leaves
  // room for normals that are not quite radial.
  const double radius_m = 0.01, thickness_m = 1e-3;
  const TriangleMesh face = sphere(Vec3(0.1, 0.0, 0.0), radius_m, 4);
  const std::vector<double> thick(face.points_m.size(), thickness_m);
  const Thickened shell = thicken(face, thick, std::vector<char>(face.points_m.size(), 1));
  expect_closed(shell.solid);
  const double exact_m3 = 4.0 / 3.0 * kPi * (std::pow(radius_m + thickness_m, 3) - std::pow(radius_m, 3));
  EXPECT_NEAR(shell.volume_m3, exact_m3, 0.003 * exact_m3);
  EXPECT_EQ(shell.turned, 0);
}

TEST(Thicken, BeyondTheInnerRadiusTheOtherFaceTurnsOver) {
  // Inside out, the other face lies within: beyond the centre every triangle of it is turned about.
  TriangleMesh face = sphere(Vec3::Zero(), 1e-3, 2);
  for (Triangle& t : face.triangles) std::swap(t[1], t[2]);
  const std::vector<char> all(face.points_m.size(), 1);
  EXPECT_EQ(thicken(face, std::vector<double>(all.size(), 0.5e-3), all).turned, 0);
  const Thickened past = thicken(face, std::vector<double>(all.size(), 1.5e-3), all);
  EXPECT_EQ(past.turned, past.face_triangles);
  expect_closed(past.solid);
}

TEST(Thicken, InATightFoldItTurnsOver) {
  // Two walls that meet in a groove of a tenth of the thickness: the other faces of its floor turn over.
  TriangleMesh face;
  const double x_mm[] = {-2.0, -0.1, 0.1, 2.0}, z_mm[] = {4.0, 0.0, 0.0, 4.0};
  for (int j = 0; j < 3; ++j)
    for (int i = 0; i < 4; ++i) face.points_m.emplace_back(1e-3 * x_mm[i], 1e-3 * j, 1e-3 * z_mm[i]);
  for (int j = 0; j < 2; ++j) {
    for (int i = 0; i < 3; ++i) {
      const int a = 4 * j + i;
      face.triangles.push_back({a, a + 1, a + 5});
      face.triangles.push_back({a, a + 5, a + 4});
    }
  }
  const std::vector<char> all(face.points_m.size(), 1);
  EXPECT_EQ(thicken(face, std::vector<double>(all.size(), 0.02e-3), all).turned, 0);
  const Thickened thick = thicken(face, std::vector<double>(all.size(), 1e-3), all);
  EXPECT_EQ(thick.turned, 4);  // the floor's
  expect_closed(thick.solid);
}

TEST(Thicken, TakesWhatIsInsideAndClosesRoundAHole) {
  const TriangleMesh face = square(6, 0.06);
  const std::vector<double> thick(face.points_m.size(), 1e-3);
  std::vector<char> inside(face.points_m.size(), 1);
  inside[3 * 7 + 3] = 0;  // the middle: its six triangles go
  const Thickened ring = thicken(face, thick, inside);
  EXPECT_EQ(ring.face_triangles, 72 - 6);
  expect_closed(ring.solid);
  EXPECT_NEAR(ring.face_area_m2, 33e-4, 1e-15);
  EXPECT_NEAR(ring.volume_m3, 33e-4 * 1e-3, 1e-13 * 33e-7);
}

TEST(Thicken, WhatHangsOnByAPointAloneIsLeftOut) {
  // Two blocks of nine squares share the point (3, 3) and no edge, for the diagonals run the other way. Each has one
  // triangle there, half a square of 1 cm: one of the two goes.
  const TriangleMesh face = square(6, 0.06);
  const std::vector<double> thick(face.points_m.size(), 1e-3);
  std::vector<char> inside(face.points_m.size(), 0);
  for (std::size_t j = 0; j < 7; ++j)
    for (std::size_t i = 0; i < 7; ++i) inside[7 * j + i] = (i <= 3 && j >= 3) || (i >= 3 && j <= 3) ? 1 : 0;
  const Thickened parts = thicken(face, thick, inside);
  expect_closed(parts.solid);
  EXPECT_EQ(parts.face_triangles, 36 - 1);
  EXPECT_NEAR(parts.volume_m3, 17.5e-4 * 1e-3, 1e-13 * 17.5e-7);
}

TEST(Thicken, NothingInsideIsNothing) {
  const TriangleMesh face = square(2, 0.01);
  const Thickened none =
      thicken(face, std::vector<double>(face.points_m.size(), 1e-3), std::vector<char>(face.points_m.size(), 0));
  EXPECT_TRUE(none.solid.triangles.empty());
  EXPECT_TRUE(none.solid.points_m.empty());
}

TEST(Thicken, KnowsASheetFromWhatIsNone) {
  TriangleMesh face = square(2, 0.01);
  EXPECT_TRUE(is_sheet(face));
  std::swap(face.triangles[3][1], face.triangles[3][2]);
  EXPECT_FALSE(is_sheet(face));
  face = square(2, 0.01);
  face.triangles.push_back(face.triangles[0]);
  EXPECT_FALSE(is_sheet(face));
}

}  // namespace
}  // namespace pellicle::mesh
