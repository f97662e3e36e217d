// Are edges and corners found, with the radius that the facets stand for, and nothing where the mould is flat?
#include "solver/mould/creases.h"

#include "mesh/shapes.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <vector>

namespace pellicle::mould {
namespace {

constexpr CreaseScale kScale{.spacing_m = 1e-3, .largest_radius_m = 20e-3, .merge_m = 1e-6};

TEST(Creases, OfABoxAreItsEdgesAndCornersAllSharpAndConvex) {
  const mesh::Nearest box(mesh::box({0, 0, 0}, {10e-3, 10e-3, 10e-3}));
  const Creases creases(box, kScale);
  EXPECT_EQ(creases.size(),
            12 * 9 + 8);  // 10 mm at 1 mm: nine places within, ends shared; the faces' diagonals are flat
  for (int i = 0; i < creases.size(); ++i) {
    EXPECT_TRUE(creases[i].is_convex);
    EXPECT_EQ(creases[i].radius_m, 0.0);
    int on_face = 0;
    for (int k = 0; k < 3; ++k) {
      const double x = creases[i].point_m[k];
      if (x == 0.0 || x == 10e-3) {
        ++on_face;
        EXPECT_GT(creases[i].outward[k] * (x > 0.0 ? 1.0 : -1.0), 0.1);
      }
    }
    EXPECT_GE(on_face, 2);
  }
}

TEST(Creases, OfASphereStandForItsRadius) {
  const mesh::Nearest sphere(mesh::sphere({0, 0, 0}, 5e-3, 4));
  const Creases creases(sphere, kScale);
  ASSERT_GT(creases.size(), 1000);
  double sum = 0.0;
  for (int i = 0; i < creases.size(); ++i) {
    EXPECT_TRUE(creases[i].is_convex);
    sum += creases[i].radius_m;
    EXPECT_GT(creases[i].outward.dot(creases[i].point_m.normalized()), 0.99);
  }
  // On triangles that are alike all round, two thirds of the heights lie between their middles: up to half too large.
  EXPECT_GT(sum / creases.size(), 5e-3);
  EXPECT_LT(sum / creases.size(), 1.5 * 5e-3);
  EXPECT_EQ(Creases(sphere, {.spacing_m = 1e-3, .largest_radius_m = 2e-3, .merge_m = 1e-6}).size(), 0);
}

TEST(Creases, OfAFacettedCylinderAreItsRadius) {
  const mesh::Nearest cylinder(mesh::cylinder(6e-3, 0.0, 10e-3, 36));
  const Creases creases(cylinder, kScale);
  int walls = 0;
  for (int i = 0; i < creases.size(); ++i) {
    if (creases[i].radius_m == 0.0) continue;                                        // the rims
    EXPECT_NEAR(creases[i].radius_m, 6e-3 * std::cos(std::numbers::pi / 36), 1e-9);  // touches facets in their middle
    ++walls;
  }
  EXPECT_GE(walls, 36 * 9);
}

TEST(Creases, OfACupAreConcaveAtItsFootAndConvexAtItsMouth) {
  const mesh::Nearest cup(mesh::cup(10e-3, 8e-3, 10e-3, 20e-3, 64, 3));
  const Creases creases(cup, {.spacing_m = 1e-3, .largest_radius_m = 5e-3, .merge_m = 1e-6});
  int foot = 0, mouth = 0;
  for (int i = 0; i < creases.size(); ++i) {
    const Crease& c = creases[i];
    if (std::fabs(c.point_m.head<2>().norm() - 10e-3) > 1e-4) continue;
    if (std::fabs(c.point_m.z() - 2e-3) < 1e-6) {
      EXPECT_FALSE(c.is_convex);
      ++foot;
    } else if (std::fabs(c.point_m.z() - 10e-3) < 1e-6) {
      EXPECT_TRUE(c.is_convex);
      ++mouth;
    }
  }
  EXPECT_GE(foot, 64);
  EXPECT_GE(mouth, 64);
}

TEST(Creases, BoxesFindWhatBruteForceFinds) {
  const mesh::Nearest surface(mesh::cup(10e-3, 8e-3, 10e-3, 20e-3, 48, 3));
  const Creases creases(surface, kScale);
  for (int k = 0; k < 200; ++k) {
    const Vec3 low{-0.02 + 2e-4 * k, -0.01 + 1.3e-4 * k, -0.001 + 4e-5 * k}, high = low + Vec3{4e-3, 5e-3, 6e-3};
    for (const double largest_m : {1.0, 5e-3, 0.0}) {
      std::vector<char> found(static_cast<std::size_t>(creases.size()), 0);
      creases.in_box(low, high, largest_m, [&](int i) { return found[static_cast<std::size_t>(i)] = 1, true; });
      for (int i = 0; i < creases.size(); ++i) {
        const bool inside =
            (creases[i].point_m.array() >= low.array()).all() && (creases[i].point_m.array() <= high.array()).all();
        EXPECT_EQ(found[static_cast<std::size_t>(i)] != 0, inside && creases[i].radius_m <= largest_m);
      }
    }
  }
}

TEST(Creases, MergingKeepsOneOfEachSign) {
  const mesh::Nearest box(mesh::box({0, 0, 0}, {10e-3, 10e-3, 10e-3}));
  const Creases all(box, kScale), one(box, {.spacing_m = 1e-3, .largest_radius_m = 20e-3, .merge_m = 1.0});
  EXPECT_GT(all.size(), 100);
  EXPECT_EQ(one.size(), 1);
}

}  // namespace
}  // namespace pellicle::mould
