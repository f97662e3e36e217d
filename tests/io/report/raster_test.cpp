// Is what is drawn where it should be? Triangles whose pixels are counted by hand.
#include "io/report/raster.h"

#include "io/report/colour_map.h"

#include <gtest/gtest.h>
#include <Eigen/Geometry>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace pellicle::report {
namespace {

using mesh::Vec3;

/// Straight from above, one pixel a metre, (0, 0) in the lower left corner of the picture.
Camera from_above(int width, int height) {
  return {Vec3::UnitX(), Vec3::UnitY(), Vec3::UnitZ(), {0.5 * width, 0.5 * height, 0.0}, 1.0, width, height};
}

int covered(const Picture& p) {
  int count = 0;
  for (int y = 0; y < p.height; ++y)
    for (int x = 0; x < p.width; ++x) count += p.at(x, y)[3] == 255 ? 1 : 0;
  return count;
}

TEST(Raster, ATriangleCoversThePixelsWhoseMiddlesLieInIt) {
  // Legs of 4 along x and y: middles (i + 1/2, j + 1/2) with i + j + 1 <= 4, on the edge included: 4 + 3 + 2 + 1.
  const std::vector<Vec3> points{{0, 0, 0}, {4, 0, 0}, {0, 4, 0}};
  const std::vector<mesh::Triangle> triangles{{0, 1, 2}};
  const std::vector<double> values(3, 0.5);
  const Picture p = drawn({points, triangles, values, 0.0, 1.0}, from_above(6, 6), 1);
  EXPECT_EQ(covered(p), 10);
  for (int x = 0; x < 6; ++x)
    for (int y = 0; y < 6; ++y) EXPECT_EQ(p.at(x, 5 - y)[3] == 255, x + y + 1 <= 4) << x << ", " << y;
}

TEST(Raster, TwoTrianglesLeaveNoGapBetweenThem) {
  const std::vector<Vec3> points{{0.2, 0.1, 0}, {9.7, 0.4, 0}, {9.9, 9.8, 0}, {0.3, 9.6, 0}};
  const std::vector<double> values(4, 0.5);
  const Picture one =
      drawn({points, std::vector<mesh::Triangle>{{0, 1, 2}, {0, 2, 3}}, values, 0.0, 1.0}, from_above(10, 10), 1);
  const Picture other =
      drawn({points, std::vector<mesh::Triangle>{{0, 1, 3}, {1, 2, 3}}, values, 0.0, 1.0}, from_above(10, 10), 1);
  EXPECT_GT(covered(one), 80);
  EXPECT_EQ(covered(one), covered(other)) << "cut one way or the other, a square is the same square";
}

TEST(Raster, TheNearerWinsWhateverTheOrder) {
  const std::vector<Vec3> points{{0, 0, 0}, {8, 0, 0}, {0, 8, 0}, {0, 0, 1}, {8, 0, 1}, {0, 8, 1}};
  const std::vector<double> values{0, 0, 0, 1, 1, 1};
  for (const auto& order : {std::vector<mesh::Triangle>{{0, 1, 2}, {3, 4, 5}}, {{3, 4, 5}, {0, 1, 2}}}) {
    const Picture p = drawn({points, order, values, 0.0, 1.0}, from_above(8, 8), 2);
    const std::uint8_t* at = p.at(1, 6);
    EXPECT_GT(at[0], at[2]) << "yellow of the upper one, not blue of the lower";
  }
}

TEST(Raster, FlatSheetFacingTheEyeHasTheColoursOfTheMapInOneLight) {
  const std::vector<Vec3> points{{0, 0, 0}, {256, 0, 0}, {256, 4, 0}, {0, 4, 0}};
  const std::vector<double> values{0, 256, 256, 0};
  const Picture p =
      drawn({points, std::vector<mesh::Triangle>{{0, 1, 2}, {0, 2, 3}}, values, 0.0, 256.0}, from_above(256, 4), 1);
  // The lamp stands at (-0.45, 0.55, 0.7): light 0.62 + 0.38 * 0.7 / |lamp|.
  const double light = 0.62 + 0.38 * 0.7 / std::hypot(0.45, 0.55, 0.7);
  for (const int x : {0, 100, 255}) {
    const Rgb c = colour_of((x + 0.5) / 256.0);
    EXPECT_NEAR(p.at(x, 2)[0], light * c.red, 1.0) << "rounding";
    EXPECT_NEAR(p.at(x, 2)[2], light * c.blue, 1.0);
  }
}

TEST(Raster, WhereThereIsNoValueItIsStripedGrey) {
  const std::vector<Vec3> points{{0, 0, 0}, {40, 0, 0}, {0, 40, 0}};
  const std::vector<double> values{0.1, std::numeric_limits<double>::quiet_NaN(), 0.9};
  const Picture p = drawn({points, std::vector<mesh::Triangle>{{0, 1, 2}}, values, 0.0, 1.0}, from_above(40, 40), 1);
  std::uint8_t darkest = 255, lightest = 0;
  for (int x = 0; x < 20; ++x) {
    const std::uint8_t* at = p.at(x, 39);
    EXPECT_EQ(at[0], at[1]);
    EXPECT_EQ(at[0], at[2]);
    darkest = std::min(darkest, at[0]);
    lightest = std::max(lightest, at[0]);
  }
  EXPECT_GT(lightest, darkest + 20);
}

TEST(Raster, AnEdgeIsSoftenedBySamples) {
  const std::vector<Vec3> points{{0, 0, 0}, {2.5, 0, 0}, {2.5, 4, 0}, {0, 4, 0}};
  const std::vector<double> values(4, 0.5);
  const Picture p =
      drawn({points, std::vector<mesh::Triangle>{{0, 1, 2}, {0, 2, 3}}, values, 0.0, 1.0}, from_above(4, 4), 2);
  EXPECT_EQ(p.at(1, 1)[3], 255);
  EXPECT_EQ(p.at(2, 1)[3], 127) << "two of four samples";
  EXPECT_EQ(p.at(3, 1)[3], 0);
}

TEST(Raster, ACameraHoldsAllOfItsBox) {
  const Vec3 low(-30e-3, -9e-3, 0.0), high(30e-3, 9e-3, 5e-3);
  for (const double azimuth : {-2.0, 0.3, 1.7})
    for (const double height : {0.0, 0.7, std::numbers::pi / 2}) {
      const Camera camera = camera_on(low, high, azimuth, height, 400, 300);
      EXPECT_NEAR(camera.right.cross(camera.up).dot(camera.towards), 1.0, 1e-12) << "right-handed: not a mirror";
      double nearest_edge = 1e9;
      for (int corner = 0; corner < 8; ++corner) {
        const Vec3 p((corner & 1) != 0 ? high.x() : low.x(), (corner & 2) != 0 ? high.y() : low.y(),
                     (corner & 4) != 0 ? high.z() : low.z());
        const Vec3 seen = camera.seen(p);
        nearest_edge = std::min({nearest_edge, seen.x() / 400, seen.y() / 300, 1 - seen.x() / 400, 1 - seen.y() / 300});
      }
      EXPECT_NEAR(nearest_edge, 0.04, 1e-9) << "the margin, on the tighter side";
    }
}

TEST(Raster, APlaceUnderTheSheetIsHiddenFromAbove) {
  const std::vector<Vec3> points{{0, 0, 1}, {8, 0, 1}, {0, 8, 1}};
  const std::vector<mesh::Triangle> triangles{{0, 1, 2}};
  const Camera camera = from_above(8, 8);
  EXPECT_TRUE(is_hidden(points, triangles, camera, {1, 1, 0}, 0.1));
  EXPECT_FALSE(is_hidden(points, triangles, camera, {1, 1, 0.95}, 0.1)) << "nearly on it";
  EXPECT_FALSE(is_hidden(points, triangles, camera, {1, 1, 2}, 0.1)) << "before it";
  EXPECT_FALSE(is_hidden(points, triangles, camera, {7, 7, 0}, 0.1)) << "beside it";
}

TEST(Raster, AColourBarRunsFromEndToEnd) {
  const Picture bar = colour_bar(300, 3);
  const Rgb least = colour_map().front(), most = colour_map().back();
  for (int y = 0; y < 3; ++y) {
    EXPECT_EQ(bar.at(0, y)[0], least.red);
    EXPECT_EQ(bar.at(0, y)[2], least.blue);
    EXPECT_EQ(bar.at(299, y)[0], most.red);
    EXPECT_EQ(bar.at(299, y)[2], most.blue);
    EXPECT_EQ(bar.at(150, y)[3], 255);
  }
}

}  // namespace
}  // namespace pellicle::report
