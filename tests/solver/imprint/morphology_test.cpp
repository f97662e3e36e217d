// Do openings take away what is narrower than the octagon, and are distances and parts right? Against plain loops.
#include "solver/imprint/morphology.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>

namespace pellicle::imprint {
namespace {

std::size_t cell(int nx, int i, int j) {
  return static_cast<std::size_t>(j) * static_cast<std::size_t>(nx) + static_cast<std::size_t>(i);
}

Field any_field(int nx, int ny, unsigned seed) {
  std::mt19937 dice(seed);
  Field f{nx, ny, {}};
  for (int k = 0; k < nx * ny; ++k) f.at.push_back(static_cast<double>(dice() % 1000));
  return f;
}

/// Offsets of the octagon: where a single high cell spreads to.
std::vector<std::pair<int, int>> octagon(int radius) {
  const int n = 4 * radius + 3, middle = n / 2;
  Field f{n, n, std::vector<double>(static_cast<std::size_t>(n) * static_cast<std::size_t>(n), 0.0)};
  f.at[cell(n, middle, middle)] = 1.0;
  const Field wide = dilate(f, radius);
  std::vector<std::pair<int, int>> offsets;
  for (int j = 0; j < n; ++j)
    for (int i = 0; i < n; ++i)
      if (wide(i, j) > 0.0) offsets.emplace_back(i - middle, j - middle);
  return offsets;
}

TEST(Morphology, TheOctagonIsRegularAndOfTheRadiusAskedFor) {
  for (const int radius : {1, 2, 5, 12, 30}) {
    int right = 0, up = 0;
    double corner = 0.0, area = 0.0;
    for (const auto& [i, j] : octagon(radius)) {
      right = std::max(right, i), up = std::max(up, j), corner = std::max(corner, std::hypot(i, j)), area += 1.0;
    }
    EXPECT_EQ(right, radius);
    EXPECT_EQ(up, radius);
    if (radius < 5) continue;
    EXPECT_NEAR(corner, radius / std::cos(M_PI / 8.0), 1.0);  // a cell
    const double side = 2.0 * radius + 1.0;
    EXPECT_NEAR(area, 0.8284 * side * side, 2.5 * side);  // 2 (sqrt 2 - 1) of its square; the rim to half a cell
  }
}

TEST(Morphology, LeastAndMostAreThoseOfAPlainLoop) {
  const Field f = any_field(37, 23, 3);
  for (const int radius : {0, 1, 3, 7, 40}) {
    const auto offsets = octagon(radius);
    const Field low = erode(f, radius), high = dilate(f, radius);
    for (int j = 0; j < f.ny; ++j)
      for (int i = 0; i < f.nx; ++i) {
        double least = 1e9, most = -1e9;
        for (const auto& [p, q] : offsets)
          if (i + p >= 0 && i + p < f.nx && j + q >= 0 && j + q < f.ny)
            least = std::min(least, f(i + p, j + q)), most = std::max(most, f(i + p, j + q));
        // Lines are clipped one after another, so that near the edge of the field the way round is closed to them.
        if (i >= radius && i < f.nx - radius && j >= radius && j < f.ny - radius) {
          ASSERT_EQ(low(i, j), least);
          ASSERT_EQ(high(i, j), most);
        } else {
          ASSERT_GE(low(i, j), least);
          ASSERT_LE(high(i, j), most);
        }
      }
  }
}

TEST(Morphology, OpeningTakesTheNarrowBarAndKeepsTheWideOneAndASlope) {
  Field f{80, 60, {}};
  for (int j = 0; j < 60; ++j)
    for (int i = 0; i < 80; ++i) {
      const bool narrow = i >= 20 && i < 24, wide = i >= 40 && i < 60;
      f.at.push_back(0.25 * j + (narrow || wide ? 10.0 : 0.0));
    }
  const Field o = opened(f, 4), c = closed(f, 4);
  for (int j = 8; j < 52; ++j) {
    EXPECT_EQ(o(22, j), 0.25 * j);
    EXPECT_EQ(o(50, j), f(50, j));
    EXPECT_EQ(o(10, j), f(10, j));
    EXPECT_EQ(c(22, j), f(22, j));
  }
}

TEST(Morphology, PartsJoinOverCornersAndAreCountedInTheOrderOfTheRows) {
  const std::vector<char> marked{1, 0, 0, 1, 0,  //
                                 0, 1, 0, 1, 0,  //
                                 0, 0, 0, 0, 0,  //
                                 1, 0, 0, 0, 1};
  const Parts parts = parts_of(marked, 5, 4);
  EXPECT_EQ(parts.count, 4);
  EXPECT_EQ(parts.of, (std::vector<int>{0, -1, -1, 1, -1, -1, 0, -1, 1, -1, -1, -1, -1, -1, -1, 2, -1, -1, -1, 3}));
}

TEST(Morphology, DistancesAreThoseOfAPlainLoop) {
  const int nx = 31, ny = 22;
  std::mt19937 dice(5);
  std::vector<char> marked;
  for (int k = 0; k < nx * ny; ++k) marked.push_back(dice() % 9 != 0);
  const std::vector<double> found = distance_to_edge(marked, nx, ny);
  for (int j = 0; j < ny; ++j)
    for (int i = 0; i < nx; ++i) {
      double least = 1e9;
      for (int q = -1; q <= ny; ++q)
        for (int p = -1; p <= nx; ++p)
          if (p < 0 || p >= nx || q < 0 || q >= ny || !marked[cell(nx, p, q)])
            least = std::min(least, std::hypot(p - i, q - j));
      ASSERT_NEAR(found[cell(nx, i, j)], least, 1e-12) << i << ' ' << j;  // round-off
    }
}

}  // namespace
}  // namespace pellicle::imprint
