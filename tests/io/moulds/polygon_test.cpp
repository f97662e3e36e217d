// Polygons become triangles that cover them once, concave ones too; what is doubtful is noted.
#include "io/moulds/polygon.h"

#include <gtest/gtest.h>

#include <Eigen/Geometry>

#include <cmath>
#include <random>

namespace pellicle::moulds {
namespace {

using mesh::Vec3;

Vec3 area_of(const std::vector<Facet>& facets) {
  Vec3 sum = Vec3::Zero();
  for (const Facet& f : facets) sum += 0.5 * (f[1] - f[0]).cross(f[2] - f[0]);
  return sum;
}

double plain_area_of(const std::vector<Facet>& facets) {
  double sum = 0.0;
  for (const Facet& f : facets) sum += 0.5 * (f[1] - f[0]).cross(f[2] - f[0]).norm();
  return sum;
}

struct Cut {
  std::vector<Facet> facets;
  std::vector<std::string> notes;
};

Cut cut(const std::vector<Vec3>& corners) {
  PolygonCutter cutter;
  Cut out;
  cutter.cut(corners, 7, out.facets);
  cutter.add_notes("line", out.notes);
  return out;
}

TEST(Polygon, AConvexOneIsFannedFromItsFirstCorner) {
  const std::vector<Vec3> square{{0, 0, 0}, {2, 0, 0}, {2, 1, 0}, {0, 1, 0}};
  const Cut out = cut(square);
  ASSERT_EQ(out.facets.size(), 2U);
  EXPECT_EQ(out.facets[0], (Facet{square[0], square[1], square[2]}));
  EXPECT_EQ(out.facets[1], (Facet{square[0], square[2], square[3]}));
  EXPECT_TRUE(out.notes.empty());
}

/// Covered once: the triangles' areas add up to the polygon's own, none of them turned round.
TEST(Polygon, ConcaveOnesAreCoveredOnceWhereverTheyStartAndLie) {
  const std::vector<std::vector<Vec3>> shapes{
      {{0, 0, 0}, {4, 0, 0}, {4, 4, 0}, {2, 1, 0}},                                                // arrow head
      {{0, 0, 0}, {5, 0, 0}, {5, 1, 0}, {1, 1, 0}, {1, 4, 0}, {0, 4, 0}},                          // L
      {{0, 0, 0}, {6, 0, 0}, {6, 5, 0}, {4, 5, 0}, {4, 2, 0}, {2, 2, 0}, {2, 5, 0}, {0, 5, 0}},    // U
      {{0, 0, 0}, {1, 0, 0}, {2, 0, 0}, {3, 0, 0}, {3, 1, 0}, {3, 2, 0}, {1.5, 2, 0}, {0, 2, 0}},  // straight runs
      {{0, 0, 0}, {9, 0, 0}, {9, 9, 0}, {0, 9, 0}, {0, 0, 0}, {3, 3, 0}, {3, 6, 0}, {6, 6, 0}, {6, 3, 0}, {3, 3, 0}},
  };
  const double areas[] = {6, 5 + 3, 12 + 6 + 6, 6, 81 - 9};
  int checked = 0;
  for (std::size_t shape = 0; shape < std::size(areas); ++shape) {
    for (std::size_t start = 0; start < shapes[shape].size(); ++start) {
      for (const Vec3& axis : {Vec3(0, 0, 1), Vec3(1, 2, 3), Vec3(-1, 0.2, 0.1)}) {
        const Eigen::Matrix3d turn =
            Eigen::AngleAxisd(1.0 + 0.3 * static_cast<double>(start), axis.normalized()).matrix();
        std::vector<Vec3> corners;
        for (std::size_t k = 0; k < shapes[shape].size(); ++k) {
          corners.push_back(turn * shapes[shape][(start + k) % shapes[shape].size()] + Vec3(100, -50, 20));
        }
        const Cut out = cut(corners);
        EXPECT_EQ(out.facets.size(), corners.size() - 2);
        EXPECT_NEAR(plain_area_of(out.facets), areas[shape], 1e-9) << "shape " << shape << " from " << start;
        EXPECT_NEAR((area_of(out.facets) - areas[shape] * turn.col(2)).norm(), 0, 1e-9);
        EXPECT_TRUE(out.notes.empty()) << out.notes.front();
        ++checked;
      }
    }
  }
  EXPECT_EQ(checked, 3 * (4 + 6 + 8 + 8 + 10));
}

TEST(Polygon, NoTriangleOfAStraightRunIsFlat) {
  const Cut out = cut({{0, 0, 0}, {1, 0, 0}, {2, 0, 0}, {3, 0, 0}, {3, 2, 0}, {0, 2, 0}});
  ASSERT_EQ(out.facets.size(), 4U);
  for (const Facet& f : out.facets) EXPECT_GT((f[1] - f[0]).cross(f[2] - f[0]).norm(), 0.5);
}

/// Stars with random spikes are simple polygons; their area is the sum over the wedges.
TEST(Polygon, RandomStarsAreCoveredOnce) {
  std::mt19937 random(5);
  std::uniform_real_distribution<double> radius(0.2, 2.0);
  for (int round = 0; round < 50; ++round) {
    const int corners = 5 + round;
    std::vector<Vec3> star;
    double area = 0.0;
    for (int k = 0; k < corners; ++k) {
      const double angle = 2 * std::acos(-1.0) * k / corners, r = radius(random);
      star.emplace_back(r * std::cos(angle), r * std::sin(angle), 0);
    }
    for (std::size_t k = 0; k < star.size(); ++k) area += 0.5 * star[k].cross(star[(k + 1) % star.size()]).z();
    const Cut out = cut(star);
    EXPECT_NEAR(plain_area_of(out.facets), area, 1e-9) << corners;
    EXPECT_TRUE(out.notes.empty());
  }
}

TEST(Polygon, WhatIsDoubtfulIsNoted) {
  const Cut star = cut({{1, 0, 0}, {-0.8, 0.6, 0}, {0.3, -1, 0}, {0.3, 1, 0}, {-0.8, -0.6, 0}});  // five-pointed
  EXPECT_EQ(star.facets.size(), 3U);
  ASSERT_EQ(star.notes.size(), 1U);
  EXPECT_NE(star.notes[0].find("line 7"), std::string::npos) << star.notes[0];
  const Cut eight = cut({{0, 0, 0}, {1, 1, 0}, {1, 0, 0}, {0, 1, 0}});
  ASSERT_EQ(eight.notes.size(), 1U);
  EXPECT_NE(eight.notes[0].find("cross"), std::string::npos);
  const Cut bent = cut({{0, 0, 0}, {1, 0, 0.2}, {1, 1, 0}, {0, 1, 0.2}});
  ASSERT_EQ(bent.notes.size(), 1U);
  EXPECT_NE(bent.notes[0].find("not flat, by up to 0.1"), std::string::npos) << bent.notes[0];
}

TEST(Polygon, TheLargestOnesTakeNoTime) {
  std::vector<Vec3> comb, knot;
  const auto teeth = static_cast<double>(kMostCorners / 2 - 1);
  for (std::size_t k = 0; k < kMostCorners - 2; ++k)
    comb.emplace_back(static_cast<double>(k), k % 2 == 0 ? 1.0 : 2.0, 0);
  comb.emplace_back(2 * teeth, 0, 0);
  comb.emplace_back(0, 0, 0);
  std::reverse(comb.begin(), comb.end());
  const Cut out = cut(comb);
  EXPECT_EQ(out.facets.size(), kMostCorners - 2);
  EXPECT_TRUE(out.notes.empty());
  std::mt19937 random(3);
  std::uniform_real_distribution<double> anywhere(-1, 1);
  for (std::size_t k = 0; k < kMostCorners; ++k) knot.emplace_back(anywhere(random), anywhere(random), 0);
  EXPECT_EQ(cut(knot).facets.size(), kMostCorners - 2);
}

}  // namespace
}  // namespace pellicle::moulds
