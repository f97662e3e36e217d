// Do the findings on demoulding turn where they should?
#include "solver/checks/demould.h"

#include "tests/solver/checks/draped.h"

#include <gtest/gtest.h>

namespace pellicle::checks {
namespace {

using mesh::Vec3;

enum { kDraft, kUndercut, kRelease, kShrinkage };

Finding finding(const Draped& d, int which) { return d.demoulding().findings.at(static_cast<std::size_t>(which)); }
Draped square(double draft_degrees, double thickness_m = 0.5e-3) {
  return {block(15e-3, draft_degrees, 4), 4, 1, 8, thickness_m};
}

TEST(Demould, StraightBoxFailsAndThreeDegreesPass) {
  const Finding straight = finding(square(0.0), kDraft);
  EXPECT_EQ(straight.id, "draft");
  EXPECT_NEAR(straight.value, 0.0, 1e-9);
  EXPECT_EQ(straight.verdict, Verdict::kFail);
  ASSERT_TRUE(straight.place_m);
  EXPECT_LT(straight.place_m->z(), 20e-3);
  EXPECT_NE(straight.advice.find("no other direction"), std::string::npos) << straight.advice;
  const Finding one = finding(square(1.0), kDraft), three = finding(square(3.0), kDraft);
  EXPECT_NEAR(one.value, 1.0, 1e-9);
  EXPECT_EQ(one.verdict, Verdict::kDoubt);
  EXPECT_NEAR(three.value, 3.0, 1e-9);
  EXPECT_EQ(three.verdict, Verdict::kPass);
  EXPECT_EQ(finding(square(0.0), kUndercut).verdict, Verdict::kPass);
  EXPECT_EQ(finding(square(0.0), kUndercut).value, 0.0);
}

// A step no higher than the sheet is thick, as of a letter, is no wall that jams.
TEST(Demould, LowStraightStepsAreInDoubtOnly) {
  const auto step = [](double height_m) {
    return Draped(
        {{0.0, 5e-3 + height_m}, {8e-3, 5e-3 + height_m}, {8e-3, 5e-3}, {20e-3, 5e-3}, {20e-3, 0.0}, {0.0, 0.0}}, 48,
        2);
  };
  EXPECT_EQ(finding(step(0.4e-3), kDraft).verdict, Verdict::kDoubt);
  EXPECT_EQ(finding(step(0.8e-3), kDraft).verdict, Verdict::kFail);
}

// Turned by 3 degrees about y the sides across x lean by +3 and -3 degrees, and from the latter's foot
// 20 mm tan 3 degrees of the block stand over.
TEST(Demould, TurnedMouldHasAnUndercut) {
  Draped straight = square(0.0);  // its corners lie on the axes: turned by 45 degrees the sides do
  for (Vec3& p : straight.sheet.points_m) p = Eigen::AngleAxisd(45.0 * kDegree, Vec3::UnitZ()) * p;
  mesh::TriangleMesh surface = straight.mould.surface()->mesh();
  for (Vec3& p : surface.points_m) p = Eigen::AngleAxisd(45.0 * kDegree, Vec3::UnitZ()) * p;
  const Draped d = turned(Draped(surface, {straight.sheet.points_m, straight.sheet.triangles}), 3.0);
  const Finding draft = finding(d, kDraft), undercut = finding(d, kUndercut);
  EXPECT_NEAR(draft.value, -3.0, 1e-9);
  EXPECT_EQ(draft.verdict, Verdict::kFail);
  EXPECT_NE(draft.advice.find("pull along"), std::string::npos) << draft.advice;
  // The lowest pieces have their middles a third of a piece, of eight, up; sixteen directions, one of them square on.
  EXPECT_NEAR(undercut.value, 20.0 * (1.0 - 1.0 / 24.0) * std::sin(3.0 * kDegree), 0.01);
  EXPECT_NE(undercut.verdict, Verdict::kPass);
}

// A lip of 0.1 mm round a stem of 5 mm: 2 % of strain. The yield strain of the card decides.
TEST(Demould, VerdictOnAnUndercutTurnsWithTheYieldStrain) {
  Draped d({{0.0, 14e-3}, {5.1e-3, 14e-3}, {5.1e-3, 10e-3}, {5e-3, 10e-3}, {5e-3, 1e-3}, {5e-3, 0.0}, {0.0, 0.0}}, 96,
           2);
  const Formed formed = d.formed();
  const std::vector<Lying> lying = lying_in_part(formed);
  const std::vector<Trapped> held = trapped(formed, Vec3::UnitZ());
  const Pull pull{formed, lying, held};
  const auto with = [&](const Estimate& yield_strain) {
    d.spec.solid->yield_strain = yield_strain;
    return undercut(pull);
  };
  const Finding snaps = with({0.03, 0.025, 0.04}), close = with({0.022, 0.015, 0.04});
  EXPECT_NEAR(snaps.value, 0.1, 0.005);
  EXPECT_EQ(snaps.verdict, Verdict::kDoubt);
  EXPECT_NE(snaps.advice.find("snaps off"), std::string::npos);
  EXPECT_EQ(close.verdict, Verdict::kDoubt);
  EXPECT_EQ(close.advice.find("snaps off"), std::string::npos) << "the band reaches below";
  EXPECT_EQ(with({0.018, 0.012, 0.025}).verdict, Verdict::kFail);
  d.spec.solid.reset();
  EXPECT_EQ(undercut(pull).verdict, Verdict::kDoubt);
  EXPECT_NEAR(undercut(pull).value, 0.1, 0.005);
}

// The lip alone decides, round a stem of 5 mm: 0.08 %, 0.4 %, 5 %, of a polymer that yields at 3 %.
// The limit told is the depth at which it does, 3 % of the ring's half width.
TEST(Demould, TheLipDecides) {
  const auto with = [](double by_m) {
    return finding(Draped({{0.0, 14e-3}, {5e-3 + by_m, 14e-3}, {5e-3, 1e-3}, {5e-3, 0.0}, {0.0, 0.0}}, 48, 2, 4),
                   kUndercut);
  };
  const Finding free = with(0.004e-3), snaps = with(0.02e-3), holds = with(0.25e-3);
  EXPECT_EQ(free.verdict, Verdict::kPass) << free.why;
  EXPECT_EQ(snaps.verdict, Verdict::kDoubt) << snaps.why;
  EXPECT_EQ(holds.verdict, Verdict::kFail) << holds.why;
  ASSERT_TRUE(snaps.limit && holds.limit && holds.place_m);
  // Sixteen directions find the half width up to 2 % too short, 48 flats up to 0.2 %, the wall's lean the rest.
  EXPECT_NEAR(*snaps.limit, 0.03 * 5.0, 0.03 * 0.03 * 5.0);
  EXPECT_LT(snaps.value, *snaps.limit);
  EXPECT_GT(holds.value, *holds.limit);
}

// Without a card: 12 % is more than any card bears, 8 % is not.
TEST(Demould, ADeepUndercutFailsWhateverTheSheetIs) {
  const auto without_card = [](double by_m) {
    Draped d({{0.0, 14e-3}, {5e-3 + by_m, 14e-3}, {5e-3 + by_m, 10e-3}, {5e-3, 10e-3}, {5e-3, 0.0}, {0.0, 0.0}}, 48, 1);
    d.spec.solid.reset();
    return finding(d, kUndercut);
  };
  const Finding deep = without_card(0.6e-3), less = without_card(0.4e-3);
  EXPECT_EQ(deep.verdict, Verdict::kFail) << deep.why;
  EXPECT_NE(deep.why.find("none bears 10 %"), std::string::npos) << deep.why;
  EXPECT_EQ(less.verdict, Verdict::kDoubt) << less.why;
}

// A closed vault with a part on the pedestal in it: whichever way the part is moved, the roof stands over it.
TEST(Demould, WhatHooksInHasNoWayOut) {
  const Profile vault{{0.0, 5e-3},  {4e-3, 5e-3}, {4e-3, 2e-3},   {15e-3, 2e-3}, {15e-3, 15e-3},
                      {0.0, 15e-3}, {0.0, 20e-3}, {20e-3, 20e-3}, {20e-3, 0.0},  {0.0, 0.0}};
  Draped d(revolved(vault, 24), revolved(finer({vault[0], vault[1]}, 4), 24));
  for (const bool has_card : {true, false}) {
    if (!has_card) d.spec.solid.reset();
    const Finding hooked = finding(d, kUndercut);
    EXPECT_EQ(hooked.verdict, Verdict::kFail) << hooked.why;
    EXPECT_NE(hooked.why.find("no way out sideways"), std::string::npos) << hooked.why;
  }
}

// A mould file rounded to 0.01 mm: 0.005 mm stand over a ring of 5 mm, 0.1 %.
TEST(Demould, RoundingOfAFileHoldsNothing) {
  const auto lip = [](double by_m) {
    return Draped({{0.0, 14e-3}, {5e-3 + by_m, 14e-3}, {5e-3, 1e-3}, {5e-3, 0.0}, {0.0, 0.0}}, 48, 2, 4);
  };
  const Finding rounded = finding(lip(0.004e-3), kUndercut);
  EXPECT_GT(rounded.value, 0.0);
  EXPECT_EQ(rounded.verdict, Verdict::kPass);
  EXPECT_EQ(finding(lip(0.02e-3), kUndercut).verdict, Verdict::kDoubt);
}

// Straight square block of height L with a lid: wall 8 s h L, rim s h/(1-nu) round four sides. Strain (80e-6 - 0.3 x
// 90e-6) x 60 K, friction 0.2; corners and ends of samples, 2 %.
TEST(Demould, ReleaseIsTheClosedFormAndTurnsWithTheGauge) {
  const double side_m = 15e-3 * std::sqrt(2.0);
  const auto expected_N = [&](double h) {
    const double N = 2e9 * (80e-6 - 0.3 * 90e-6) * 60.0 * h;
    return 0.2 * (8.0 * N * 20e-3 + 4.0 * side_m * N / 0.6);
  };
  const Finding thin = finding(square(0.0, 0.1e-3), kRelease), mid = finding(square(0.0), kRelease),
                thick = finding(square(0.0, 3e-3), kRelease);
  EXPECT_NEAR(mid.value, expected_N(0.5e-3), 0.02 * expected_N(0.5e-3));
  EXPECT_EQ(thin.verdict, Verdict::kPass);
  EXPECT_EQ(mid.verdict, Verdict::kDoubt) << mid.value;
  EXPECT_EQ(thick.verdict, Verdict::kFail);
  ASSERT_TRUE(mid.place_m);
  EXPECT_NE(mid.why.find("bar of air"), std::string::npos);
  EXPECT_NE(mid.why.find("middle domes by"), std::string::npos) << mid.why;
  EXPECT_LT(finding(square(3.0), kRelease).value, mid.value);
  EXPECT_EQ(finding(square(20.0), kRelease).value, 0.0) << "more draft than friction holds";
  Draped unknown = square(0.0);
  unknown.spec.solid.reset();
  EXPECT_TRUE(std::isnan(finding(unknown, kRelease).value));
  EXPECT_EQ(finding(unknown, kRelease).verdict, Verdict::kDoubt);
}

TEST(Demould, ScaleIsThatOfTheShrinkageAndLargerForACavity) {
  EXPECT_NEAR(finding(square(3.0), kShrinkage).value, 100.0 * 0.005 / 0.995, 1e-9);
  const Profile cup{{0.0, 5e-3}, {10e-3, 5e-3}, {12e-3, 20e-3}, {30e-3, 20e-3}, {30e-3, 0.0}, {0.0, 0.0}};
  EXPECT_NEAR(finding(Draped(cup, 48, 2), kShrinkage).value, 100.0 * 0.00675 / 0.99325, 1e-9);
}

TEST(Demould, FieldsAreThoseOfTheMouldsTriangles) {
  // Coarse sheet on a fine mould: its triangles without a sheet's middle on them have their numbers too.
  const Profile p = block(15e-3, 4.0, 4);
  const Draped d(revolved(finer(p, 10), 4), revolved(Profile(p.begin(), p.end() - 1), 4));
  const DemouldField field = d.demoulding().field;
  const mesh::Nearest& surface = *d.mould.surface();
  ASSERT_EQ(field.draft_deg.size(), surface.mesh().triangles.size());
  ASSERT_EQ(field.undercut_m.size(), field.draft_deg.size());
  int walls = 0, tops = 0, bare = 0;
  for (std::size_t e = 0; e < field.draft_deg.size(); ++e) {
    const double up = surface.normal(static_cast<int>(e)).z();
    if (up < -0.5) {
      EXPECT_TRUE(std::isnan(field.draft_deg[e]) && std::isnan(field.undercut_m[e]));
      ++bare;
    } else {
      EXPECT_NEAR(field.draft_deg[e], up > 0.5 ? 90.0 : 4.0, 1e-5);  // asin near 1
      EXPECT_EQ(field.undercut_m[e], 0.0);
      ++(up > 0.5 ? tops : walls);
    }
  }
  EXPECT_EQ(walls, 80);
  EXPECT_EQ(tops, 76);
  EXPECT_EQ(bare, 76);
}

}  // namespace
}  // namespace pellicle::checks
