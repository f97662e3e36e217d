// Is the stretch tensor of the formed sheet the one that its edges' lengths ask for?
#include "solver/imprint/surface_stretch.h"

#include <gtest/gtest.h>

#include <Eigen/Geometry>
#include <Eigen/LU>
#include <cmath>
#include <utility>

namespace pellicle::imprint {
namespace {

// One triangle anywhere in space. An edge e now was F^-1 e, so its length over its flat one, l, has 1/l^2 = e.b^-1 e.
// Round-off of 2 x 2 inverses: 1e-12.
TEST(SurfaceStretch, InverseGivesBackTheLengthsOfEveryEdge) {
  forming::FormingResult f;
  f.flat_m = {{0.1, 0.2}, {1.3, 0.1}, {0.4, 1.7}};
  f.points_m = {{0.0, 0.0, 1.0}, {1.1, 0.9, 0.2}, {-0.7, 2.0, 2.5}};
  f.triangles = {{0, 1, 2}};
  const Eigen::Matrix3d b = stretch_tensor(f, 0);
  const mesh::Vec3 u = (f.points_m[1] - f.points_m[0]).normalized();
  const mesh::Vec3 n = (f.points_m[1] - f.points_m[0]).cross(f.points_m[2] - f.points_m[0]).normalized();
  const mesh::Vec3 v = n.cross(u);
  Eigen::Matrix2d in_plane;
  in_plane << u.dot(b * u), u.dot(b * v), v.dot(b * u), v.dot(b * v);
  for (const auto& [i, j] : {std::pair{0UL, 1UL}, {1UL, 2UL}, {2UL, 0UL}}) {
    const mesh::Vec3 edge = f.points_m[j] - f.points_m[i];
    const Eigen::Vector2d e = Eigen::Vector2d(edge.dot(u), edge.dot(v)).normalized();
    const double stretch = edge.norm() / (f.flat_m[j] - f.flat_m[i]).norm();
    EXPECT_NEAR(e.dot(in_plane.inverse() * e) * stretch * stretch, 1.0, 1e-12);
  }
  EXPECT_NEAR((b * n).norm(), 0.0, 1e-12);
}

TEST(SurfaceStretch, AlongPrincipalLinesIsTheSquareOfTheirStretch) {
  forming::FormingResult f;
  f.flat_m = {{0.0, 0.0}, {1.0, 0.0}, {0.0, 1.0}};
  f.points_m = {{0.0, 0.0, 0.0}, {0.0, 2.0, 0.0}, {0.0, 0.0, 1.2}};  // stood up
  f.triangles = {{0, 1, 2}};
  const Eigen::Matrix3d b = stretch_tensor(f, 0);
  EXPECT_NEAR(b(1, 1), 4.0, 1e-14);
  EXPECT_NEAR(b(2, 2), 1.44, 1e-14);
  EXPECT_NEAR(b(1, 2), 0.0, 1e-14);
}

}  // namespace
}  // namespace pellicle::imprint
