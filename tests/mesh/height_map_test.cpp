// Height maps: sampling, and what a printer's pixel, layers, draft and round edges do, against shapes known by hand.
#include "mesh/height_map.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace pellicle::mesh {
namespace {

HeightMap random_map(int nx, int ny, bool periodic) {
  std::mt19937 source(7);
  HeightMap map = flat_map(nx, ny, 0.5, periodic);
  for (double& z : map.height_m) z = static_cast<double>(source()) / 4294967296.0;
  return map;
}

/// Height 1 in columns first..last-1, else 0.
HeightMap bar(int nx, int ny, int first, int last, double spacing_m = 0.1) {
  HeightMap map = flat_map(nx, ny, spacing_m);
  for (int j = 0; j < ny; ++j) {
    for (int i = first; i < last; ++i) map.at(i, j) = 1.0;
  }
  return map;
}

TEST(HeightMap, SamplesAPlaneExactlyAndHoldsTheBorder) {
  HeightMap map = flat_map(6, 5, 0.25);
  for (int j = 0; j < 5; ++j) {
    for (int i = 0; i < 6; ++i) map.at(i, j) = 2.0 * (i + 0.5) * 0.25 - 3.0 * (j + 0.5) * 0.25;
  }
  for (const double x : {0.125, 0.3, 0.77, 1.375}) {
    for (const double y : {0.125, 0.4, 1.1}) EXPECT_NEAR(height_at(map, x, y), 2.0 * x - 3.0 * y, 1e-14);  // rounding
  }
  EXPECT_EQ(height_at(map, -5.0, 0.125), map.at(0, 0));
  EXPECT_EQ(height_at(map, 9.0, 9.0), map.at(5, 4));
}

TEST(HeightMap, APeriodicMapRepeats) {
  const HeightMap map = random_map(7, 4, true);
  int checked = 0;
  for (const double x : {0.1, 1.7, 3.4}) {
    for (const double y : {0.0, 1.9}) {
      for (const int turn : {-2, -1, 1, 3}) {
        // The place itself is rounded: eps times a few periods over the spacing.
        EXPECT_NEAR(height_at(map, x + turn * 3.5, y - turn * 2.0), height_at(map, x, y), 1e-13);
        ++checked;
      }
    }
  }
  EXPECT_EQ(checked, 24);
  EXPECT_NEAR(height_at(map, 0.0, 0.25), 0.5 * (map.at(0, 0) + map.at(6, 0)), 1e-15);  // between first and last
}

TEST(HeightMap, BlurKeepsTheVolumeOfAPeriodicMap) {
  const HeightMap map = random_map(23, 17, true);
  for (const double pixel_m : {0.3, 0.5, 0.7, 1.0, 2.3, 9.0}) {
    const HeightMap out = blurred(map, pixel_m);
    EXPECT_NEAR(volume_m3(out), volume_m3(map), 1e-12 * volume_m3(map)) << pixel_m;  // a sum of 391 roundings
    EXPECT_LE(highest_m(out), highest_m(map) + 1e-15);
    EXPECT_EQ(out.height_m != map.height_m, pixel_m > 0.5);
  }
}

TEST(HeightMap, BlurOfAStepIsARampAsWideAsThePixel) {
  const HeightMap out = blurred(bar(40, 1, 20, 40), 0.45);  // 4.5 cells about each middle
  for (int i = 0; i < 40; ++i) {
    const double inside = std::clamp((i + 0.5 + 2.25 - 20.0) / 4.5, 0.0, 1.0);  // share of the box right of the step
    EXPECT_NEAR(out.at(i, 0), inside, 1e-13) << i;
  }
}

TEST(HeightMap, LayersAreWholeAndAtMostHalfALayerOff) {
  const HeightMap map = random_map(30, 30, false);
  const HeightMap out = in_layers(map, 0.05);
  int moved = 0;
  for (std::size_t k = 0; k < map.height_m.size(); ++k) {
    EXPECT_LE(std::fabs(out.height_m[k] - map.height_m[k]), 0.025 + 1e-12);
    const double layers = out.height_m[k] / 0.05;
    EXPECT_NEAR(layers, std::round(layers), 1e-12);
    moved += out.height_m[k] != map.height_m[k];
  }
  EXPECT_GT(moved, 800);
  HeightMap sunk = map;
  for (double& z : sunk.height_m) z = -z;
  const HeightMap sunk_out = in_layers(sunk, 0.05);
  for (std::size_t k = 0; k < map.height_m.size(); ++k) EXPECT_EQ(sunk_out.height_m[k], -out.height_m[k]);
}

TEST(HeightMap, DraftOfAStepHasExactlyItsSlope) {
  for (const double draft : {0.2, 0.7, 1.2}) {
    const HeightMap raised = with_draft(bar(60, 3, 25, 35), draft);
    int on_wall = 0;
    for (int i = 0; i < 60; ++i) {
      const double off_m = 0.1 * std::max({0, 25 - i, i - 34});  // from the middle of the last high cell
      const double expected = std::max(0.0, 1.0 - off_m / std::tan(draft));
      EXPECT_NEAR(raised.at(i, 1), expected, 1e-14) << draft << ", " << i;  // rounding of one product
      on_wall += expected > 0.0 && expected < 1.0;
    }
    EXPECT_GE(on_wall, draft > 0.5 ? 10 : 2);
  }
}

TEST(HeightMap, DraftKeepsTheMouthAndNarrowsTheFloorOfAGroove) {
  HeightMap groove = bar(60, 1, 20, 40);
  for (double& z : groove.height_m) z = -z;
  const HeightMap out = with_draft(groove, std::atan(0.5));  // falls 1 over 0.5: 5 cells
  for (int i = 0; i < 60; ++i) {
    const bool inside = i >= 20 && i < 40;
    const double off_m = 0.1 * std::min(i - 19, 40 - i);
    EXPECT_NEAR(out.at(i, 0), inside ? std::max(-1.0, -2.0 * off_m) : 0.0, 1e-13) << i;
  }
}

/// The definition, with every pair of cells.
TEST(HeightMap, DraftIsThatOfAllPairsOfCells) {
  for (const bool periodic : {false, true}) {
    const HeightMap map = random_map(19, 13, periodic);
    const HeightMap out = with_draft(map, 1.3);
    const double slope = 1.0 / std::tan(1.3);
    int raised = 0;
    for (int j = 0; j < map.ny; ++j) {
      for (int i = 0; i < map.nx; ++i) {
        double z = map.at(i, j);
        for (int jj = 0; jj < map.ny; ++jj) {
          for (int ii = 0; ii < map.nx; ++ii) {
            const int di = std::abs(i - ii), dj = std::abs(j - jj);
            const int ei = periodic ? std::min(di, map.nx - di) : di, ej = periodic ? std::min(dj, map.ny - dj) : dj;
            z = std::max(z, map.at(ii, jj) - slope * 0.5 * std::hypot(ei, ej));
          }
        }
        EXPECT_NEAR(out.at(i, j), z, 1e-14);
        raised += z > map.at(i, j);
      }
    }
    EXPECT_GT(raised, 100);
  }
}

TEST(HeightMap, RoundEdgesAreArcsOfTheirRadius) {
  const double r = 0.6;  // six cells
  const HeightMap out = with_round_edges(bar(60, 1, 15, 45), r);
  for (int i = 15; i < 45; ++i) {
    // From the middle of the last cell at height 0 beside it to here; the ball touches the wall there.
    const double off_m = 0.1 * std::min(i - 14, 45 - i);
    const double expected = off_m < r ? 1.0 - r + std::sqrt(r * r - (r - off_m) * (r - off_m)) : 1.0;
    EXPECT_NEAR(out.at(i, 0), expected, 1e-13) << i;
  }
  for (const int i : {0, 14, 45, 59}) EXPECT_NEAR(out.at(i, 0), 0.0, 1e-13);
  EXPECT_EQ(with_round_edges(out, 0.0).height_m, out.height_m);
}

TEST(HeightMap, AFrameKeepsVolumeAndResamplingAPlane) {
  const HeightMap map = random_map(5, 4, false);
  const HeightMap out = framed(map, 8, 9);
  EXPECT_NEAR(volume_m3(out), volume_m3(map), 1e-14);
  EXPECT_EQ(out.at(1, 2), map.at(0, 0));
  HeightMap plane = flat_map(40, 40, 0.1);
  for (int j = 0; j < 40; ++j) {
    for (int i = 0; i < 40; ++i) plane.at(i, j) = 0.3 * i - 0.2 * j;
  }
  for (const double spacing_m : {0.04, 0.25}) {
    const int n = static_cast<int>(std::floor(2.0 / spacing_m));  // the inner half: a border that goes on is no plane
    const HeightMap again = resampled(plane, n, n, spacing_m);
    for (int j = 0; j < n; ++j) {
      for (int i = 0; i < n; ++i) {
        const double x = (2.0 + (i + 0.5 - 0.5 * n) * spacing_m) / 0.1 - 0.5,
                     y = (2.0 + (j + 0.5 - 0.5 * n) * spacing_m) / 0.1 - 0.5;
        EXPECT_NEAR(again.at(i, j), 0.3 * x - 0.2 * y, 1e-12);
      }
    }
  }
}

TEST(Profile, IsStraightBetweenItsPointsAndAStripIsARow) {
  const Profile strip{Profile::Kind::kStrip, {-1.0, 0.0, 0.5, 1.0}, {0.0, 0.0, 2.0, 1.0}};
  EXPECT_EQ(height_at(strip, -2.0), 0.0);
  EXPECT_EQ(height_at(strip, 0.25), 1.0);
  EXPECT_EQ(height_at(strip, 0.5), 2.0);
  EXPECT_EQ(height_at(strip, 3.0), 1.0);
  const HeightMap row = row_of(strip, 0.1, true);
  EXPECT_EQ(row.nx, 20);
  EXPECT_EQ(row.ny, 1);
  EXPECT_TRUE(row.periodic);
  EXPECT_NEAR(row.at(12, 0), 1.0, 1e-14);
  EXPECT_EQ(row_of(strip, 0.3, false).nx, 7);
}

}  // namespace
}  // namespace pellicle::mesh
