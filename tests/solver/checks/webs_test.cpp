// Is the width in excess of a fold what was put in, and is the room that is asked for that of the trade?
#include "solver/checks/webs.h"

#include "mesh/shapes.h"

#include <gtest/gtest.h>

#include <cmath>

namespace pellicle::checks {
namespace {

using mesh::Vec2;
using mesh::Vec3;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// A flat strip of nx by ny squares of side `step`, stretched along x by l1; across, `ways` says by how much each row
/// of squares is drawn together: l2 over the natural width.
struct Strip {
  forming::FormingResult sheet;
  std::vector<char> in_part;
  imprint::Screening detail;
  SheetSpec spec{};
  mould::RigidMould nothing{{}, false};

  Strip(int nx, const std::vector<double>& drawn, double step_m, double l1, double z_m, Vec2 at_m) {
    const double natural = 1.0 / std::sqrt(l1);
    const int ny = static_cast<int>(drawn.size());
    sheet.bought_thickness_m = 1e-3;
    double y = 0.0;
    for (int j = 0; j <= ny; ++j) {
      for (int i = 0; i <= nx; ++i) {
        sheet.flat_m.push_back({i * step_m, j * step_m});
        sheet.points_m.push_back({at_m.x() + l1 * i * step_m, at_m.y() + y, z_m});
      }
      if (j < ny) y += drawn[at(j)] * natural * step_m;
    }
    for (int j = 0; j < ny; ++j)
      for (int i = 0; i < nx; ++i) {
        const int a = j * (nx + 1) + i, b = a + 1, c = a + nx + 2, d = a + nx + 1;
        sheet.triangles.push_back({a, b, c});
        sheet.triangles.push_back({a, c, d});
        for (int k = 0; k < 2; ++k) {
          sheet.triangle_wrinkle.push_back(1.0 - drawn[at(j)]);
          sheet.triangle_thickness_m.push_back(sheet.bought_thickness_m / (l1 * natural));
        }
      }
    in_part.assign(sheet.points_m.size(), 1);
  }
  Formed formed(const mould::RigidMould& mould) const { return {sheet, detail, mould, spec, in_part}; }
};

constexpr double kStep_m = 1e-3, kStretch = 1.44;
/// Triangles whose diagonals all lean one way turn the long axis a little, so the end stations differ from the rest.
constexpr double kLean = 0.01;

TEST(Webs, ExcessIsNaturalWidthLessWidthCovered) {
  // Four rows of 1 mm, natural width 1/1.2 of that, of which 30 and 50 % are folded away in two of them.
  const Strip strip(20, {1.0, 1.0, 0.7, 0.5, 1.0, 1.0}, kStep_m, kStretch, 5e-3, {0.0, 0.0});
  const std::vector<Web> webs = find_webs(strip.formed(strip.nothing));
  ASSERT_EQ(webs.size(), 1U);
  EXPECT_NEAR(webs[0].excess_m, (0.3 + 0.5) * kStep_m / 1.2, kLean * kStep_m);
  EXPECT_NEAR(webs[0].length_m, 20 * kStretch * kStep_m, kLean * 20e-3);
  EXPECT_NEAR(std::fabs(webs[0].along.x()), 1.0, 0.01);
  const Finding finding = checks::webs(strip.formed(strip.nothing));
  EXPECT_NEAR(finding.value, 0.8 / 1.2, kLean);
  EXPECT_EQ(finding.verdict, Verdict::kDoubt);  // more than half a thickness, less than two
}

TEST(Webs, TwoFoldsAreTwoAndTheWasteIsToldApart) {
  Strip strip(20, {1.0, 0.9, 1.0, 1.0, 0.6, 1.0}, kStep_m, kStretch, 5e-3, {0.0, 0.0});
  for (std::size_t i = 0; i < strip.in_part.size(); ++i) strip.in_part[i] = strip.sheet.flat_m[i].y() < 3e-3;
  const std::vector<Web> webs = find_webs(strip.formed(strip.nothing));
  ASSERT_EQ(webs.size(), 2U);
  EXPECT_NEAR(webs[0].excess_m, 0.4 * kStep_m / 1.2, kLean * kStep_m);
  EXPECT_FALSE(webs[0].in_part);
  EXPECT_TRUE(webs[1].in_part);
  const Finding finding = checks::webs(strip.formed(strip.nothing));
  EXPECT_NEAR(finding.value, 0.1 / 1.2, kLean);
  EXPECT_EQ(finding.verdict, Verdict::kPass);
  EXPECT_NE(finding.why.find("in the waste 1 more"), std::string::npos) << finding.why;
}

TEST(Webs, ATautSheetHasNone) {
  const Strip strip(5, {1.0, 0.99, 1.0}, kStep_m, kStretch, 5e-3, {0.0, 0.0});
  const Finding finding = checks::webs(strip.formed(strip.nothing));
  EXPECT_EQ(finding.value, 0.0);
  EXPECT_EQ(finding.verdict, Verdict::kPass);
  EXPECT_FALSE(finding.place_m.has_value());
}

/// Two blocks 12 mm apart, 10 and 14 mm high, on the platform.
mesh::TriangleMesh two_blocks() {
  mesh::TriangleMesh both = mesh::box({-16e-3, -5e-3, 0.0}, {-6e-3, 5e-3, 10e-3});
  const mesh::TriangleMesh right = mesh::box({6e-3, -5e-3, 0.0}, {16e-3, 5e-3, 14e-3});
  const int first = static_cast<int>(both.points_m.size());
  both.points_m.insert(both.points_m.end(), right.points_m.begin(), right.points_m.end());
  for (const mesh::Triangle& t : right.triangles) both.triangles.push_back({t[0] + first, t[1] + first, t[2] + first});
  return both;
}

TEST(Webs, BetweenTwoBlocksTheRoomIsAMultipleOfTheLowerOnesHeight) {
  const mould::RigidMould mould(two_blocks(), true);
  // It hangs from one to the other at 9 mm, folded by three thicknesses.
  const Strip strip(8, {1.0, 0.1, 0.1, 0.1, 0.1, 1.0}, kStep_m, kStretch, 9e-3, {-5.8e-3, -2e-3});
  const std::vector<Web> webs = find_webs(strip.formed(mould));
  ASSERT_EQ(webs.size(), 1U);
  const auto spacing = spacing_at(mould, webs[0]);
  ASSERT_TRUE(spacing.has_value());
  EXPECT_NEAR(spacing->gap_m, 12e-3, kLean * 12e-3);
  EXPECT_NEAR(spacing->height_m, 10e-3, 1e-9);
  const Finding finding = checks::webs(strip.formed(mould));
  EXPECT_NEAR(finding.value, 4 * 0.9 / 1.2, kLean);
  EXPECT_EQ(finding.verdict, Verdict::kFail);
  EXPECT_NE(finding.advice.find("17.5 mm between them"), std::string::npos) << finding.advice;
}

TEST(Webs, AtACornerThereIsNoSpacing) {
  const mould::RigidMould mould(mesh::box({-16e-3, -5e-3, 0.0}, {-6e-3, 5e-3, 10e-3}), true);
  const Strip strip(8, {1.0, 0.1, 0.1, 1.0}, kStep_m, kStretch, 9e-3, {-5.8e-3, -2e-3});
  const Web web = find_webs(strip.formed(mould)).at(0);
  EXPECT_FALSE(spacing_at(mould, web).has_value());
  EXPECT_NE(checks::webs(strip.formed(mould)).advice.find("corner"), std::string::npos);
}

}  // namespace
}  // namespace pellicle::checks
