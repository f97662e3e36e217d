// Is the winding number of the tree that of all triangles, and 1 inside and 0 outside?
#include "mesh/winding.h"

#include "mesh/shapes.h"
#include "tests/mesh/nearest_samples.h"
#include "tests/mesh/spoilt_shapes.h"

#include <gtest/gtest.h>

#include <cmath>

namespace pellicle::mesh {
namespace {

/// What winding.h and voxels.md promise of the tree.
constexpr double kTreeOff = 0.04;

TEST(Winding, OfClosedBodiesIsOneInsideAndNoneOutside) {
  const TriangleMesh ball = sphere({0.01, 0.0, 0.0}, 0.02, 3);
  const Winding winding(ball);
  Dice dice(5);
  int inside = 0, outside = 0;
  for (int i = 0; i < 2000; ++i) {
    const Vec3 p = Vec3(0.01, 0.0, 0.0) + dice.cube(0.04);
    const double r = (p - Vec3(0.01, 0.0, 0.0)).norm() / 0.02;
    if (r > 0.98 && r < 1.0) continue;  // between the sphere and its facets
    // Exact for the sum over all triangles; the tree's expansion is good to what its header promises.
    EXPECT_NEAR(winding_by_all(ball, p), r < 1.0 ? 1.0 : 0.0, 1e-9);
    EXPECT_NEAR(winding.at(p), r < 1.0 ? 1.0 : 0.0, kTreeOff);
    ++(r < 1.0 ? inside : outside);
  }
  EXPECT_GT(inside, 100);
  EXPECT_GT(outside, 100);
}

TEST(Winding, OfTheTreeIsThatOfAllTriangles) {
  const TriangleMesh all = together(
      {sphere({0.0, 0.0, 0.0}, 0.02, 3), box({0.01, 0.0, 0.0}, {0.03, 0.02, 0.01}), soup(3, 300, {0.0, 0.0, 0.0})});
  const Winding winding(all);
  Dice dice(9);
  double worst = 0.0;
  for (int i = 0; i < 500; ++i) {
    const Vec3 p = dice.cube(i % 2 == 0 ? 0.05 : 2.0);
    worst = std::max(worst, std::abs(winding.at(p) - winding_by_all(all, p)));
  }
  RecordProperty("worst", std::to_string(worst));
  EXPECT_LT(worst, kTreeOff);
  EXPECT_GT(worst, 1e-9);  // the tree did stand in for triangles
}

TEST(Winding, OfADoubledTriangleStaysOnItsSideOfOneHalf) {
  TriangleMesh block = box({0.0, 0.0, 0.0}, {0.01, 0.01, 0.01});
  block.triangles.push_back(block.triangles.front());
  const Winding winding(block);
  Dice dice(2);
  for (int i = 0; i < 500; ++i) {
    const Vec3 p = Vec3::Constant(0.005) + dice.cube(0.0075);
    const bool inside = (p - Vec3::Constant(0.005)).cwiseAbs().maxCoeff() < 0.005;
    EXPECT_EQ(winding.at(p) > 0.5, inside);
  }
}

}  // namespace
}  // namespace pellicle::mesh
