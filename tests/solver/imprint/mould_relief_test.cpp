// Are letters found on a mould wherever and however they stand, and nothing where there are none?
#include "solver/imprint/mould_relief.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <numbers>
#include <string>

namespace pellicle::imprint {
namespace {

using mesh::Vec2;
using mesh::Vec3;
using Line = std::vector<Vec2>;

constexpr double kThickness_m = 0.75e-3, kElement_m = 0.5e-3;
constexpr double kStroke_m = 1.2e-3, kHigh_m = 0.5e-3, kFlank_m = 0.3e-3, kCap_m = 8e-3;
constexpr double kCell_m = 0.06e-3;  // coarser than a run has it, for time

/// Centre lines of a letter in a box one high; straight strokes, and a ring.
std::vector<Line> letter(char c) {
  switch (c) {
    case 'T':
      return {{{0.0, 1.0}, {0.6, 1.0}}, {{0.3, 1.0}, {0.3, 0.0}}};
    case 'I':
      return {{{0.0, 0.0}, {0.0, 1.0}}};
    case 'L':
      return {{{0.0, 1.0}, {0.0, 0.0}, {0.55, 0.0}}};
    case 'E':
      return {{{0.55, 1.0}, {0.0, 1.0}, {0.0, 0.0}, {0.55, 0.0}}, {{0.0, 0.5}, {0.45, 0.5}}};
    case 'N':
      return {{{0.0, 0.0}, {0.0, 1.0}, {0.6, 0.0}, {0.6, 1.0}}};
    default: {  // 'O'
      Line ring;
      for (int k = 0; k <= 48; ++k)
        ring.emplace_back(0.35 + 0.35 * std::cos(k * std::numbers::pi / 24),
                          0.5 + 0.5 * std::sin(k * std::numbers::pi / 24));
      return {ring};
    }
  }
}

/// Centre lines of the word, capitals kCap_m high over all, middle at the origin.
std::vector<Line> word(const std::string& text) {
  const double high = kCap_m - kStroke_m;
  std::vector<Line> lines;
  double x = 0.0;
  for (const char c : text) {
    double wide = 0.0;
    for (Line line : letter(c)) {
      for (Vec2& p : line) wide = std::max(wide, high * p.x()), p = {x + high * p.x(), high * (p.y() - 0.5)};
      lines.push_back(line);
    }
    x += wide + kStroke_m + 1.4e-3;
  }
  const double shift = 0.5 * (x - kStroke_m - 1.4e-3);
  for (Line& line : lines)
    for (Vec2& p : line) p.x() -= shift;
  return lines;
}

double distance_m(const std::vector<Line>& lines, const Vec2& p) {
  double least = 1.0;
  for (const Line& line : lines)
    for (std::size_t k = 0; k + 1 < line.size(); ++k) {
      const Vec2 d = line[k + 1] - line[k];
      const double t = std::clamp((p - line[k]).dot(d) / d.squaredNorm(), 0.0, 1.0);
      least = std::min(least, (p - line[k] - t * d).norm());
    }
  return least;
}

struct Placed {
  double turn_rad = 0.0, scale = 1.0;
  Vec2 at_m{0.0, 0.0};
};

/// A plate of 60 x 20 mm with sloping sides and this on top, as an open surface of small squares, then turned, scaled
/// and moved as a whole.
mesh::Nearest plate(const std::function<double(const Vec2&)>& on_top_m, const Placed& placed = {}) {
  constexpr double kStep_m = 0.1e-3, kHalfX_m = 30e-3, kHalfY_m = 10e-3, kTall_m = 4e-3, kSlope = 4.0;
  const int nx = static_cast<int>(std::lround(2.0 * (kHalfX_m + 2e-3) / kStep_m));
  const int ny = static_cast<int>(std::lround(2.0 * (kHalfY_m + 2e-3) / kStep_m));
  mesh::TriangleMesh m;
  const double c = std::cos(placed.turn_rad), s = std::sin(placed.turn_rad);
  for (int j = 0; j <= ny; ++j)
    for (int i = 0; i <= nx; ++i) {
      const Vec2 p{kStep_m * (i - nx / 2), kStep_m * (j - ny / 2)};
      const double inside = std::min(kHalfX_m - std::fabs(p.x()), kHalfY_m - std::fabs(p.y()));
      const double z = std::clamp(kSlope * inside, 0.0, kTall_m) + (inside > 2e-3 ? on_top_m(p) : 0.0);
      m.points_m.emplace_back(placed.scale * (c * p.x() - s * p.y()) + placed.at_m.x(),
                              placed.scale * (s * p.x() + c * p.y()) + placed.at_m.y(), placed.scale * z);
    }
  for (int j = 0; j < ny; ++j)
    for (int i = 0; i < nx; ++i) {
      const int a = j * (nx + 1) + i, b = a + 1, d = a + nx + 1, e = d + 1;
      m.triangles.push_back({a, b, e});
      m.triangles.push_back({a, e, d});
    }
  return mesh::Nearest(std::move(m));
}

/// Flanks of kFlank_m, half way up at the edge of the stroke.
double raised_m(const std::vector<Line>& lines, const Vec2& p) {
  return kHigh_m * std::clamp((0.5 * (kStroke_m + kFlank_m) - distance_m(lines, p)) / kFlank_m, 0.0, 1.0);
}

std::vector<Patch> found(const mesh::Nearest& mould) {
  ReliefSearch search = relief_search(kThickness_m, kElement_m, 64e-3 * 64e-3);
  search.spacing_m = kCell_m;
  return find_relief(mould, search);
}

void expect_word(const std::vector<Patch>& patches, std::size_t letters, double scale, double sign) {
  ASSERT_EQ(patches.size(), 1U);
  ASSERT_EQ(patches[0].strokes.size(), letters);
  for (const Stroke& s : patches[0].strokes) {
    // Facets of 0.1 mm and cells of 0.06 mm: a flank is cut by up to that, and a turned stroke is a stair.
    EXPECT_NEAR(s.width_m, scale * kStroke_m, 0.15e-3);
    EXPECT_NEAR(s.narrowest_m, scale * kStroke_m, 0.2e-3);
    EXPECT_NEAR(s.height_m, sign * scale * kHigh_m, 1e-3 * kHigh_m);
    EXPECT_NEAR(s.place_m.z(), scale * (4e-3 + sign * kHigh_m), 1e-8);
  }
}

TEST(MouldRelief, LettersAreFoundTurnedScaledMovedAndInAnotherWord) {
  for (const std::string text : {"TIL", "LINE", "NOTE"})
    for (const Placed& placed : {Placed{}, Placed{0.5236, 1.0, {0.0, 0.0}}, Placed{1.1, 0.7, {0.0137, -0.0211}}}) {
      SCOPED_TRACE(text + ", turned by " + std::to_string(placed.turn_rad));
      const std::vector<Line> lines = word(text);
      expect_word(found(plate([&](const Vec2& p) { return raised_m(lines, p); }, placed)), text.size(), placed.scale,
                  1.0);
    }
}

TEST(MouldRelief, SunkLettersAreSunkAndNeitherTheirIslandsNorCountersAreStrokes) {
  const std::vector<Line> lines = word("NOTE");
  expect_word(found(plate([&](const Vec2& p) { return -raised_m(lines, p); })), 4, 1.0, -1.0);
}

TEST(MouldRelief, BoxesAndAreasAreThoseOfTheLetters) {
  const std::vector<Patch> patches = found(plate([lines = word("TIL")](const Vec2& p) { return raised_m(lines, p); }));
  ASSERT_EQ(patches.size(), 1U);
  const double cell = kCell_m, high = kCap_m - kStroke_m;
  const Stroke& bar = patches[0].strokes[1];
  EXPECT_NEAR(bar.box_m[2] - bar.box_m[0], kStroke_m, 3.0 * cell);
  EXPECT_NEAR(bar.box_m[3] - bar.box_m[1], kCap_m, 3.0 * cell);
  const double area = kStroke_m * high + 0.25 * std::numbers::pi * kStroke_m * kStroke_m;
  EXPECT_NEAR(bar.area_m2, area, 0.5 * cell * 2.0 * (high + kStroke_m));  // half a cell all round
  EXPECT_LT(patches[0].strokes[0].box_m[2], bar.box_m[0]);
  EXPECT_LT(bar.box_m[2], patches[0].strokes[2].box_m[0]);
}

TEST(MouldRelief, WordsFarApartAreTwoPatchesTheLargerFirst) {
  std::vector<Line> lines = word("I");
  for (Line& line : lines)
    for (Vec2& p : line) p.x() += 20e-3;
  for (const Line& line : word("LINE")) lines.push_back(line);
  const std::vector<Patch> patches = found(plate([&](const Vec2& p) { return raised_m(lines, p); }));
  ASSERT_EQ(patches.size(), 2U);
  EXPECT_EQ(patches[0].strokes.size(), 4U);
  EXPECT_EQ(patches[1].strokes.size(), 1U);
}

TEST(MouldRelief, OnASlopeAndOnADomeLettersAreTheSame) {
  const std::vector<Line> lines = word("TIL");
  for (const double dome : {0.0, 1.0}) {
    const std::vector<Patch> patches = found(plate([&](const Vec2& p) {
      const double land =
          dome > 0.0 ? -p.squaredNorm() / (2.0 * 0.15) : 0.1 * (std::clamp(p.x(), -14e-3, 14e-3) + 14e-3);
      return land + raised_m(lines, p);
    }));
    ASSERT_EQ(patches.size(), 1U);
    ASSERT_EQ(patches[0].strokes.size(), 3U);
    for (const Stroke& s : patches[0].strokes) {
      EXPECT_NEAR(s.width_m, kStroke_m, 0.2e-3);         // and half the height is elsewhere, by 0.03 mm a flank
      EXPECT_NEAR(s.height_m, kHigh_m, 0.25 * kHigh_m);  // the slope counts over the width of a stroke
    }
  }
}

TEST(MouldRelief, ADotIsAsWideAsItIsRound) {
  const double across = 1.6e-3, high = 0.48e-3;  // a braille dot, about
  const double r = (0.25 * across * across + high * high) / (2.0 * high);
  const std::vector<Patch> patches = found(plate([&](const Vec2& p) {
    const double d = p.norm();
    return d < 0.5 * across ? std::sqrt(r * r - d * d) - (r - high) : 0.0;
  }));
  ASSERT_EQ(patches.size(), 1U);
  ASSERT_EQ(patches[0].strokes.size(), 1U);
  const double at_half = 2.0 * std::sqrt(r * r - (r - 0.5 * high) * (r - 0.5 * high));
  EXPECT_NEAR(patches[0].strokes[0].width_m, at_half, 0.15e-3);
  EXPECT_NEAR(patches[0].strokes[0].height_m, high, 0.02e-3);  // facets of 0.1 mm on the cap
}

TEST(MouldRelief, NothingIsFoundWhereThereIsNone) {
  EXPECT_TRUE(found(plate([](const Vec2&) { return 0.0; })).empty());
  // A rib as narrow as a stroke but higher than relief is, a block wider than a stroke, and flaws of a hundredth.
  EXPECT_TRUE(found(plate([](const Vec2& p) { return std::fabs(p.x()) < 0.6e-3 ? 2e-3 : 0.0; })).empty());
  EXPECT_TRUE(found(plate([](const Vec2& p) {
                return std::fabs(p.x()) < 2e-3 && std::fabs(p.y()) < 3e-3 ? 0.5e-3 : 0.0;
              })).empty());
  EXPECT_TRUE(
      found(plate([](const Vec2& p) { return std::fmod(std::fabs(p.x()), 1e-3) < 0.3e-3 ? 8e-6 : 0.0; })).empty());
}

}  // namespace
}  // namespace pellicle::imprint
