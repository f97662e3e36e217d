// Does the Hilbert order visit every point once, neighbours together?
#include "mesh/order.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cstdlib>
#include <random>
#include <set>

namespace pellicle::mesh {
namespace {

TEST(HilbertKey, EachCellIsASideStepFromTheOneBefore) {
  constexpr std::uint32_t kCells = 32;
  std::vector<std::array<int, 2>> cell_at(kCells * kCells, {-1, -1});
  for (std::uint32_t x = 0; x < kCells; ++x) {
    for (std::uint32_t y = 0; y < kCells; ++y) {
      const std::uint64_t key = hilbert_key(x, y, kCells);
      ASSERT_LT(key, cell_at.size());
      ASSERT_EQ(cell_at[key][0], -1) << "two cells with one key";
      cell_at[key] = {static_cast<int>(x), static_cast<int>(y)};
    }
  }
  for (std::size_t i = 1; i < cell_at.size(); ++i) {
    EXPECT_EQ(std::abs(cell_at[i][0] - cell_at[i - 1][0]) + std::abs(cell_at[i][1] - cell_at[i - 1][1]), 1);
  }
}

TEST(HilbertKey, DiffersInEveryCornerOfTheLargestSquare) {
  constexpr std::uint32_t kLast = kHilbertCells - 1;
  const std::set<std::uint64_t> keys{hilbert_key(0, 0), hilbert_key(kLast, 0), hilbert_key(0, kLast),
                                     hilbert_key(kLast, kLast), hilbert_key(kLast, kLast - 1)};
  EXPECT_EQ(keys.size(), 5U);
  EXPECT_LT(*keys.rbegin(), std::uint64_t{kHilbertCells} * kHilbertCells);
}

TEST(HilbertOrder, IsAPermutationAndTiesKeepTheirIndex) {
  const std::vector<Vec2> points{{1, 1}, {0, 0}, {1, 1}, {0, 0}, {1, 0}};
  EXPECT_EQ(hilbert_order(points), (std::vector<int>{1, 3, 0, 2, 4}));
  EXPECT_TRUE(hilbert_order({}).empty());
  const std::vector<Vec2> one_place(5, Vec2(3.0, 4.0));
  EXPECT_EQ(hilbert_order(one_place), (std::vector<int>{0, 1, 2, 3, 4}));
}

// Along any curve through n x n cells the mean step cannot be below one cell; random points in cells make it about 1.
TEST(HilbertOrder, StepsAreShort) {
  std::mt19937 engine(1);
  std::vector<Vec2> points;
  constexpr int kCount = 10000;
  for (int i = 0; i < kCount; ++i) {
    const int x = static_cast<int>(engine() % 100000U), y = static_cast<int>(engine() % 100000U);
    points.emplace_back(1e-3 * x, 1e-3 * y);
  }
  const std::vector<int> order = hilbert_order(points);
  std::vector<int> sorted = order;
  std::sort(sorted.begin(), sorted.end());
  double way = 0.0;
  for (std::size_t i = 0; i < sorted.size(); ++i) {
    ASSERT_EQ(sorted[i], static_cast<int>(i));
    if (i > 0)
      way += (points[static_cast<std::size_t>(order[i])] - points[static_cast<std::size_t>(order[i - 1])]).norm();
  }
  EXPECT_LT(way / kCount, 1.2);  // the square is 100 x 100 with one point a unit; random order gives 52
}

TEST(Renumber, KeepsEveryTriangleInPlaceAndSense) {
  std::vector<Vec2> points{{1, 1}, {0, 0}, {1, 0}, {0, 1}};
  std::vector<Triangle> triangles{{0, 3, 1}, {2, 0, 1}};
  const std::vector<Vec2> before = points;
  const std::vector<int> old_of_new = renumber(points, triangles);
  for (std::size_t i = 0; i < points.size(); ++i) EXPECT_EQ(points[i], before[static_cast<std::size_t>(old_of_new[i])]);
  EXPECT_TRUE(std::is_sorted(triangles.begin(), triangles.end()));
  int checked = 0;
  for (const Triangle& t : triangles) {
    EXPECT_EQ(t[0], *std::min_element(t.begin(), t.end()));
    const Vec2& a = points[static_cast<std::size_t>(t[0])];
    const Vec2 u = points[static_cast<std::size_t>(t[1])] - a, v = points[static_cast<std::size_t>(t[2])] - a;
    EXPECT_EQ(u.x() * v.y() - u.y() * v.x(), 1.0);
    ++checked;
  }
  EXPECT_EQ(checked, 2);
}

}  // namespace
}  // namespace pellicle::mesh
