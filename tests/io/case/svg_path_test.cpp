// Is every command of a drawing's path read, and is what is no closed path told with its place? Expected points are
// those of plain geometry.
#include "io/case/svg_path.h"

#include "mesh/check.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <clocale>
#include <cmath>
#include <limits>
#include <numbers>

namespace pellicle::cases {
namespace {

using mesh::Vec2;
constexpr double kEps = std::numeric_limits<double>::epsilon();

std::vector<Vec2> read(std::string_view path) { return read_svg_path(path, "x.toml:3, path"); }

void expect_points(std::string_view path, const std::vector<Vec2>& expected) {
  const std::vector<Vec2> points = read(path);
  ASSERT_EQ(points.size(), expected.size()) << path;
  for (std::size_t i = 0; i < points.size(); ++i)
    EXPECT_LT((points[i] - expected[i]).norm(), 100.0 * kEps) << path << i;
}

TEST(SvgPath, LinesInEveryNotation) {
  const std::vector<Vec2> square{{1, 2}, {9, 2}, {9, 8}, {1, 8}};
  for (const char* path :
       {"M 1 2 L 9 2 L 9 8 L 1 8 Z", "M1,2L9,2L9,8L1,8Z", "M 1 2 9 2 9 8 1 8 z", "m1 2 8 0 0 6-8 0z",
        "M 1 2 H 9 V 8 H 1 Z", "m 1 2 h 8 v 6 h -8 z", "M1 2H9V8H1V2Z", "M1 2H9V8H1V2", "M1 2h4 4v3 3h-8z",
        "\t M\n1e0,.2e+1 L +9.0 2. 90E-1 8 , 1 8 Z  ", "M1 2l8 0 0 6-8-0 0-6Z"}) {
    if (std::string_view(path).find("h4 4") != std::string_view::npos)
      expect_points(path, {{1, 2}, {5, 2}, {9, 2}, {9, 5}, {9, 8}, {1, 8}});
    else
      expect_points(path, square);
  }
  expect_points("M0 0L.5.5 1.5-1Z", {{0, 0}, {0.5, 0.5}, {1.5, -1}});
}

TEST(SvgPath, DoesNotDependOnTheLocale) {
  const bool german = std::setlocale(LC_NUMERIC, "de_DE.UTF-8") != nullptr;  // where there is one: "1.5" would end at 1
  expect_points("M0 0L1.5 0 0 2.5Z", {{0, 0}, {1.5, 0}, {0, 2.5}});
  if (german) std::setlocale(LC_NUMERIC, "C");
}

/// The farthest that a point of the curve lies from the chords, over the longer side of the box around the points.
template <class Curve>
double off(const std::vector<Vec2>& points, const Curve& at) {
  double worst = 0.0;
  Vec2 low = points[0], high = low;
  for (const Vec2& p : points) low = low.cwiseMin(p), high = high.cwiseMax(p);
  for (int k = 0; k <= 5000; ++k) {
    const Vec2 q = at(k / 5000.0);
    double nearest = std::numeric_limits<double>::infinity();
    for (std::size_t i = 0; i < points.size(); ++i) {
      const Vec2 a = points[i], side = points[(i + 1) % points.size()] - a;
      const double t = std::clamp((q - a).dot(side) / side.squaredNorm(), 0.0, 1.0);
      nearest = std::min(nearest, (q - a - t * side).norm());
    }
    worst = std::max(worst, nearest);
  }
  return worst / (high - low).maxCoeff();
}

TEST(SvgPath, CurvesAreWithinTheChordError) {
  const auto cubic = [](double t) -> Vec2 {
    const double u = 1.0 - t;
    return 3.0 * u * u * t * Vec2(0, 40) + 3.0 * u * t * t * Vec2(100, 60) + t * t * t * Vec2(80, 0);
  };
  for (const char* path : {"M 0 0 C 0 40 100 60 80 0 Z", "m0 0c0 40 100 60 80 0z"}) {
    EXPECT_LE(off(read(path), cubic), kPathChordError) << path;
    EXPECT_LT(read(path).size(), 200U) << path;  // 1/10000 of the side, without waste
  }
  const auto quadratic = [](double t) -> Vec2 { return 2.0 * (1.0 - t) * t * Vec2(50, 90) + t * t * Vec2(80, 10); };
  EXPECT_LE(off(read("M 0 0 Q 50 90 80 10 Z"), quadratic), kPathChordError);
  EXPECT_LE(off(read("m 0 0 q 50 90 80 10 z"), quadratic), kPathChordError);
  // S and T mirror the control point before: the same curves written out.
  const auto same = [](std::string_view a, std::string_view b) { EXPECT_TRUE(read(a) == read(b)) << a; };
  same("M0 0C0 40 40 60 80 60S140 40 140 0Z", "M0 0C0 40 40 60 80 60C120 60 140 40 140 0Z");
  same("M0 0c0 40 40 60 80 60s60-20 60-60z", "M0 0C0 40 40 60 80 60C120 60 140 40 140 0Z");
  same("M0 0Q40 60 80 40T140 0Z", "M0 0Q40 60 80 40Q120 20 140 0Z");
  same("M0 0q40 60 80 40t60-40z", "M0 0Q40 60 80 40Q120 20 140 0Z");
  // Without such a curve before, the control point is the place itself.
  same("M0 0L80 60S140 40 140 0Z", "M0 0L80 60C80 60 140 40 140 0Z");
  same("M0 0C0 40 40 60 80 60T140 0Z", "M0 0C0 40 40 60 80 60Q80 60 140 0Z");
}

TEST(SvgPath, ArcsLieOnTheirEllipse) {
  struct Arc {
    const char* path;
    Vec2 centre, radii;
    double turn_deg, area;  // of the chords' polygon, with the sign of the direction; 0.2 % for the chords
  };
  constexpr double pi = std::numbers::pi;
  for (const Arc& arc :
       {Arc{"M 50 0 A 50 50 0 0 1 -50 0 A 50 50 0 0 1 50 0 Z", {0, 0}, {50, 50}, 0, pi * 2500},
        {"M50 0A50 50 0 1 0-50 0A50 50 0 1 0 50 0Z", {0, 0}, {50, 50}, 0, -pi * 2500},
        {"M50 0a50 50 0 11-100 0a50 50 0 01100 0z", {0, 0}, {50, 50}, 0, pi * 2500},  // flags run together
        {"M 40 0 A 40 20 0 0 1 0 20 L 0 0 Z", {0, 0}, {40, 20}, 0, pi * 200},
        {"M 40 0 A 40 20 0 1 0 0 20 L 0 0 Z", {0, 0}, {40, 20}, 0, -pi * 600},
        {"M 0 40 A 40 -20 90 0 1 -20 0 L 0 0 Z", {0, 0}, {40, 20}, 90, pi * 200},  // sign does not count
        {"M 0 0 A 3 3 0 0 1 80 0 Z", {40, 0}, {40, 40}, 0, -1}}) {                 // too small: half a circle of 40
    const std::vector<Vec2> points = read(arc.path);
    ASSERT_GT(points.size(), 8U) << arc.path;
    const double c = std::cos(arc.turn_deg * pi / 180.0), s = std::sin(arc.turn_deg * pi / 180.0);
    double twice = 0.0;
    int on = 0;
    for (std::size_t i = 0; i < points.size(); ++i) {
      const Vec2 p = points[i] - arc.centre, q = points[(i + 1) % points.size()] - arc.centre;
      twice += p.x() * q.y() - p.y() * q.x();
      if (p.norm() < 1e-6) continue;  // the centre, of a sector
      EXPECT_NEAR(Vec2((c * p.x() + s * p.y()) / arc.radii.x(), (c * p.y() - s * p.x()) / arc.radii.y()).norm(), 1.0,
                  1e-6)  // the cubics are off by 4e-7
          << arc.path;
      ++on;
    }
    EXPECT_GT(on, 8) << arc.path;
    const double expected = arc.area == -1 ? pi * 800 : arc.area;
    EXPECT_NEAR(0.5 * twice, expected, 2e-3 * std::abs(expected)) << arc.path;
  }
  expect_points("M0 0A0 5 0 0 1 9 0L9 9Z", {{0, 0}, {9, 0}, {9, 9}});      // no radius: a line
  expect_points("M0 0L9 0A5 5 0 0 1 9 0L9 9Z", {{0, 0}, {9, 0}, {9, 9}});  // no way: nothing
}

TEST(SvgPath, WhatIsNoClosedPathIsToldWithItsPlace) {
  struct Bad {
    const char* path;
    const char* found;
  };
  for (const Bad& bad : {Bad{"", "no M at the start at character 1"},
                         {"L 1 2", "no M at the start at character 1"},
                         {"M", "the end at character 2"},
                         {"M 1", "the end at character 4"},
                         {"M 1 2 L 3", "the end at character 10"},
                         {"M 0 0 L 9 0 L 0 9", "an open path"},
                         {"M 0 0 L 9 0 9 9 Z L 3 3", "more after Z at character 19"},
                         {"M 0 0 L 9 0 9 9 Z M 1 1 L 2 2 Z", "more after Z"},
                         {"M 0 0 L 9 0 9 9 M 1 1 L 2 2 Z", "a second subpath at character 17"},
                         {"M 0 0 L 9 x 9 9 Z", "\"x 9 9 Z\" at character 11"},
                         {"M 0 0 X 9 0 9 9 Z", "\"X\" at character 7"},
                         {"M 0 0 L 9,,0 9 9 Z", "no number after the comma at character 11"},
                         {"M 0 0 L inf 0 9 9 Z", "\"inf 0 9 9 Z\" at"},
                         {"M 0 0 L nan 0 9 9 Z", "at character 9"},
                         {"M 0 0 L 1e999 0 9 9 Z", "at character 9"},
                         {"M 0 0 L - 1 0 9 9 Z", "at character 9"},
                         {"M 0 0 A 5 5 0 2 0 9 9 Z", "\"2 0 9 9 Z\" at character 15"},
                         {"M 0 0 A 5 5 0 0 9 9 Z", "\"9 9 Z\" at character 17"},
                         {"M 0 0 L 9 0 9 Z", "at character 15"}}) {
    try {
      read(bad.path);
      ADD_FAILURE() << "was taken: " << bad.path;
    } catch (const Error& error) {
      EXPECT_EQ(error.exit_code(), 2) << bad.path;
      EXPECT_EQ(error.fault().where, "x.toml:3, path") << bad.path;
      EXPECT_NE(error.fault().found.find(bad.found), std::string::npos) << bad.path << ": " << error.fault().found;
      EXPECT_NE(error.fault().allowed, "") << bad.path;
    }
  }
}

}  // namespace
}  // namespace pellicle::cases
