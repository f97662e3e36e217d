// Does a ray hit what it must, and never slip between two triangles?
#include "tests/mesh/nearest_samples.h"

#include <gtest/gtest.h>

namespace pellicle::mesh {
namespace {

TEST(Ray, HitsWhatASearchThroughAllHits) {
  long hits = 0, misses = 0;
  for (const auto& [name, mesh] : samples()) {
    const Nearest nearest(mesh);
    std::vector<Nearest> alone;  // each triangle in a tree of its own
    for (const Triangle& t : mesh.triangles) alone.emplace_back(TriangleMesh{mesh.points_m, {t}});
    Dice dice(61);
    const std::vector<Vec3> from = questions(mesh, 400, 62);
    for (std::size_t i = 0; i < from.size(); ++i) {
      const auto at = static_cast<std::size_t>(dice.below(static_cast<int>(mesh.triangles.size())));
      const Vec3 to_corner = corner(mesh, at, 0) - from[i];
      const Vec3 axis = Vec3::Unit(static_cast<int>(i % 3)) * (i % 2 == 0 ? 1.0 : -1.0);
      const Vec3 d = i % 4 == 0 && to_corner.norm() > 0.0 ? Vec3(to_corner.normalized())
                     : i % 4 == 1                         ? axis
                                                          : dice.direction();
      Nearest::Hit wanted{-1, kInfinity};
      for (std::size_t t = 0; t < alone.size(); ++t) {
        const auto hit = alone[t].ray(from[i], d);
        if (hit && hit->t_m < wanted.t_m) wanted = {static_cast<int>(t), hit->t_m};
      }
      const auto found = nearest.ray(from[i], d);
      ASSERT_EQ(found.has_value(), wanted.triangle >= 0) << name << " " << i;
      (found ? hits : misses) += 1;
      if (!found) continue;
      ASSERT_EQ(found->triangle, wanted.triangle) << name;
      ASSERT_EQ(found->t_m, wanted.t_m) << name;
      ASSERT_TRUE(nearest.ray(from[i], d, wanted.t_m));
      ASSERT_FALSE(nearest.ray(from[i], d, std::nextafter(wanted.t_m, -1.0)));
      // The place hit lies on the triangle: rounding of the way there and of the corners.
      const Vec3 place = from[i] + found->t_m * d;
      const auto t = static_cast<std::size_t>(found->triangle);
      const double way = from[i].norm() + found->t_m + around(mesh).half;
      if (!is_flat(mesh, t)) {
        EXPECT_LE(closest_on_triangle(place, corner(mesh, t, 0), corner(mesh, t, 1), corner(mesh, t, 2)).distance_m,
                  1e-13 * way)
            << name;
      }
    }
  }
  EXPECT_GT(hits, 800);
  EXPECT_GT(misses, 800);
}

TEST(Ray, DistanceToABoxIsExactFromBothSides) {
  const Nearest cube(box(Vec3(0, 0, 0), Vec3(1, 2, 3)));
  EXPECT_EQ(cube.ray(Vec3(-1, 0.5, 0.25), Vec3::UnitX())->t_m, 1.0);
  EXPECT_EQ(cube.ray(Vec3(0.5, 0.5, 0.25), Vec3::UnitX())->t_m, 0.5);
  EXPECT_EQ(cube.ray(Vec3(0.5, 0.5, 0.25), -Vec3::UnitZ())->t_m, 0.25);
  EXPECT_FALSE(cube.ray(Vec3(-1, 0.5, 0.25), -Vec3::UnitX()));
  EXPECT_FALSE(cube.ray(Vec3(-1, 2.5, 0.25), Vec3::UnitX()));
}

// From inside a closed surface every ray hits, in particular those aimed at corners and edges, to the last bit and a
// few roundings beside. A slip shows as a miss or as a hit behind the target.
TEST(Ray, NeverSlipsThroughAnEdgeOrCorner) {
  const std::vector<Sample> solids{{"sphere", sphere(Vec3(0.1, -0.2, 0.3), 0.05, 3)},
                                   {"box", box(Vec3(-1, -1, -1), Vec3(1, 1, 1))},
                                   {"box with filler", box_with_filler()},
                                   {"cylinder", cylinder(0.02, 0.0, 0.05, 40)}};
  long shots = 0;
  for (const auto& [name, mesh] : solids) {
    const Nearest nearest(mesh);
    const Box b = around(mesh);
    Dice dice(71);
    for (int round = 0; round < 12; ++round) {
      // The centre itself aims exactly along symmetry planes, others are generic. Convex: all are inside.
      const Vec3 from = b.centre + (round == 0 ? 0.0 : 0.2 * b.half) * dice.direction();
      for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
        for (std::size_t k = 0; k < 3; ++k) {
          for (const double part : {0.0, 0.5, dice.in(0.0, 1.0)}) {
            Vec3 target = (1.0 - part) * corner(mesh, t, k) + part * corner(mesh, t, (k + 1) % 3);
            if (round % 2 == 1) target += 4.0 * kEps * b.half * dice.direction();
            const Vec3 way = target - from;
            const auto hit = nearest.ray(from, way.normalized());
            ASSERT_TRUE(hit) << name << " " << round << " " << t << " " << k << " " << part;
            ASSERT_NEAR(hit->t_m, way.norm(), 1e-9 * b.half) << name;  // corner angles up to 1e4 times rounding
            ++shots;
          }
        }
      }
    }
  }
  EXPECT_GT(shots, 100000);
}

// A box turned at random, with a filler whose three corners are in line but for rounding: what is decided there by sign
// alone needs the exact one, and the filler's own plane says nothing about where it is hit.
TEST(Ray, NeverSlipsPastAFillerWithoutArea) {
  Dice dice(75);
  long shots = 0, on_filler = 0;
  for (int round = 0; round < 4000; ++round) {
    TriangleMesh mesh = box_with_filler();
    mesh.points_m[8].x() = dice.in(-0.9, 0.9);
    const Eigen::Quaterniond turn =
        Eigen::Quaterniond(dice.in(-1, 1), dice.in(-1, 1), dice.in(-1, 1), 0.1).normalized();
    const Vec3 move = dice.cube(1.0);
    for (Vec3& p : mesh.points_m) p = turn * p + move;
    const Nearest nearest(mesh);
    for (int i = 0; i < 300; ++i) {
      const Vec3 from = turn * dice.cube(0.5) + move;
      const std::size_t end = i % 3 == 0 ? 4 : i % 3 == 1 ? 5 : 8;
      const double part = dice.in(0.0, 1.0);
      const Vec3 way = part * mesh.points_m[end] + (1.0 - part) * mesh.points_m[i % 2 == 0 ? 4 : 8] - from;
      const auto hit = nearest.ray(from, way.normalized());
      ASSERT_TRUE(hit) << round << " " << i;
      ASSERT_NEAR(hit->t_m, way.norm(), 1e-13);  // a hundred roundings of lengths of 1 to 4
      on_filler += hit->triangle == 13 ? 1 : 0;
      ++shots;
    }
  }
  EXPECT_GE(shots, 1000000);
  EXPECT_GT(on_filler, 1000);
}

}  // namespace
}  // namespace pellicle::mesh
