// Are undercuts found where they are, as deep as they are, and the direction in which a block comes off?
#include "solver/checks/pull.h"

#include "tests/solver/checks/draped.h"

#include <gtest/gtest.h>
#include <omp.h>

#include <algorithm>

namespace pellicle::checks {
namespace {

using mesh::Vec3;
using std::numbers::pi;

const Vec3 kUp = Vec3::UnitZ();

Profile mushroom(double cap_m, double stem_m) {
  return {{0.0, 14e-3}, {cap_m, 14e-3}, {cap_m, 10e-3}, {stem_m, 10e-3}, {stem_m, 1e-3}, {stem_m, 0.0}, {0.0, 0.0}};
}
Trapped deepest(const std::vector<Trapped>& all) {
  return *std::max_element(all.begin(), all.end(),
                           [](const Trapped& a, const Trapped& b) { return a.depth_m < b.depth_m; });
}

// From the stem 5 mm of cap stand over. Sixteen directions find the way out up to 2 % too long, and the half width
// along it up to 2 % too short; 96 flats make it 0.05 % of the radii shorter or longer.
TEST(Trapped, MushroomIsFoundWithPlaceAndDepth) {
  const Draped d(mushroom(10e-3, 5e-3), 96, 2, 4);
  const auto all = trapped(d.formed(), kUp);
  ASSERT_FALSE(all.empty());
  const Trapped worst = deepest(all);
  EXPECT_NEAR(worst.depth_m, 5e-3, 0.025 * 5e-3);
  EXPECT_NEAR(worst.place_m.head<2>().norm(), 5e-3, 0.01e-3);
  EXPECT_LT(worst.place_m.z(), 10e-3);
  EXPECT_NEAR(worst.half_width_m, 5e-3, 0.021 * 5e-3);
  EXPECT_FALSE(worst.in_cavity);
  for (const Trapped& t : all) {
    EXPECT_LE(t.place_m.z(), 10e-3);
    // Anywhere below: out to the cap's rim, of a ring of its own radius.
    const double r = t.place_m.head<2>().norm();
    EXPECT_NEAR(t.depth_m, 10e-3 - r, 0.03 * (10e-3 - r) + 0.02e-3);
    EXPECT_NEAR(t.half_width_m, r, 0.021 * r);
  }
  EXPECT_EQ(all.size(), 96U * 2U * 8U) << "all of the cap's underside and the stem, and nothing else";
}

TEST(Trapped, SlackSheetUnderALipIsHeldThoughItDoesNotTouch) {
  Profile slack = mushroom(10e-3, 8e-3);
  const Draped d(revolved(mushroom(10e-3, 5e-3), 96), revolved(finer(Profile(slack.begin(), slack.end() - 2), 8), 96));
  const Trapped worst = deepest(trapped(d.formed(), kUp));
  EXPECT_NEAR(worst.depth_m, 2e-3, 0.06e-3);
  EXPECT_NEAR(worst.half_width_m, 8e-3, 0.021 * 8e-3);
}

TEST(Trapped, CavityUnderALipIsPressedInwards) {
  const Profile bottle{{0.0, 5e-3},   {10e-3, 5e-3},  {10e-3, 15e-3}, {9e-3, 15e-3},
                       {9e-3, 20e-3}, {30e-3, 20e-3}, {30e-3, 0.0},   {0.0, 0.0}};
  const Draped d(bottle, 96, 2);
  const Trapped worst = deepest(trapped(d.formed(), kUp));
  EXPECT_NEAR(worst.depth_m, 1e-3, 0.03e-3);
  EXPECT_NEAR(worst.half_width_m, 10e-3, 0.021 * 10e-3);
  EXPECT_TRUE(worst.in_cavity);
  EXPECT_EQ(cavity_share(d.formed(), lying_in_part(d.formed()), kUp), 1.0);
}

/// A dot of this sphere on a plate, up to `height`.
Draped dot(double radius_m, double height_m) {
  Profile p;
  constexpr int kRings = 60;
  const double foot = std::acos((radius_m - height_m) / radius_m);  // from the top
  for (int i = 0; i <= kRings; ++i) {
    const double a = foot * i / kRings;
    p.push_back({radius_m * std::sin(a), 5e-3 + height_m - radius_m * (1.0 - std::cos(a))});
  }
  p.push_back({4e-3, 5e-3});
  p.push_back({4e-3, 0.0});
  p.push_back({0.0, 0.0});
  p.front().x() = 0.0;
  return {p, 192, 2, 1};
}

// Dots 1.6 mm wide and 0.9 mm high are 0.094 mm more than a hemisphere of 0.806 mm. The lowest pieces of sheet have
// their middles a third of a ring up; what is looked out from is a thousandth of the 0.5 mm sheet off the mould, and
// 192 flats are up to 0.1 um within the circle.
TEST(Trapped, BrailleDotSlightlySteeperThanAHemisphere) {
  const double r = 0.806e-3, h = 0.9e-3;
  const auto all = trapped(dot(r, h).formed(), kUp);
  ASSERT_FALSE(all.empty());
  const Trapped worst = deepest(all);
  const double below = h - r, ring = below / 3.0;  // below: the equator's height; a ring is less than that third
  const double most = r - std::sqrt(r * r - below * below);
  const double least = r - std::sqrt(r * r - std::pow(below - ring, 2));
  EXPECT_LT(worst.depth_m, 1.02 * most);
  EXPECT_GT(worst.depth_m, 0.98 * least - 0.7e-6);
  EXPECT_NEAR(most, 5.5e-6, 0.1e-6);
  EXPECT_NEAR(worst.half_width_m, 0.8e-3, 0.021 * 0.8e-3);
  EXPECT_LT(worst.interlock_strain(), 0.01) << "it snaps off";
  EXPECT_LT(worst.place_m.z(), 5e-3 + below);
  EXPECT_TRUE(trapped(dot(0.769e-3, 0.6e-3).formed(), kUp).empty()) << "less than a hemisphere";
}

TEST(Trapped, UprightWallsAreFreeAlsoAfterTheRoundingOfAFile) {
  Draped d(block(15e-3, 0.0, 64), 64, 1);
  EXPECT_TRUE(trapped(d.formed(), kUp).empty());
  mesh::TriangleMesh rounded = d.mould.surface()->mesh();
  for (Vec3& p : rounded.points_m) p = p.cast<float>().cast<double>();
  const Draped r(rounded, {d.sheet.points_m, d.sheet.triangles});
  EXPECT_TRUE(trapped(r.formed(), kUp).empty());
  EXPECT_TRUE(trapped(Draped(block(15e-3, 0.0, 4), 4, 1).formed(), kUp).empty());
}

TEST(SteepWalls, AreTheSidesWithTheirHeight) {
  const Draped d(block(15e-3, 1.0, 4), 4, 1, 20);
  const auto lying = lying_in_part(d.formed());
  const auto walls = steep_walls(d.formed(), lying, kUp, 2.0 * kDegree);
  ASSERT_EQ(walls.size(), 1U) << "four sides that hang together";
  EXPECT_NEAR(walls[0].least_draft_rad, 1.0 * kDegree, 1e-9);
  EXPECT_NEAR(walls[0].height_m, 20e-3, 1e-9);
  double side_m2 = 0.0;
  for (const Lying& l : lying)
    if (l.mould_normal.z() < 0.5) side_m2 += l.area_m2;
  EXPECT_NEAR(walls[0].area_m2, side_m2, 1e-12);
  EXPECT_TRUE(steep_walls(d.formed(), lying, kUp, 0.9 * kDegree).empty());
}

// The score has its best at the block's own axis, where all four sides have 5 degrees; the search ends within half of
// its last step of a quarter degree, or a little more along a valley.
TEST(BestPull, IsTheAxisOfATiltedBlock) {
  const Draped d = turned(Draped(block(15e-3, 5.0, 4), 4, 1), 12.0);
  const auto lying = lying_in_part(d.formed());
  const PullMeasure straight = measure_pull(d.formed(), lying, kUp), best = best_pull(d.formed(), lying);
  const Vec3 axis = Eigen::AngleAxisd(12.0 * kDegree, Vec3::UnitY()) * kUp;
  EXPECT_GT(straight.trapped_share, 0.1);
  EXPECT_LT(best.direction.cross(axis).norm(), std::sin(0.5 * kDegree));
  EXPECT_EQ(best.trapped_share, 0.0);
  EXPECT_NEAR(best.draft_rad, 5.0 * kDegree, 0.4 * kDegree);
  // Two of the sides, at 45 degrees to the turn, lean over: normal (cos 5 cos 45, cos 5 sin 45, sin 5) before it.
  const double s5 = std::sin(5.0 * kDegree), c5 = std::cos(5.0 * kDegree), s12 = std::sin(12.0 * kDegree);
  EXPECT_NEAR(std::sin(straight.draft_rad), s5 * std::cos(12.0 * kDegree) - c5 * std::sqrt(0.5) * s12, 1e-9);
}

TEST(Trapped, SameBitsWithAnyThreads) {
  const Draped d(mushroom(10e-3, 5e-3), 48, 2);
  const auto answer = [&](int threads) {
    omp_set_num_threads(threads);
    std::vector<double> all;
    for (const Trapped& t : trapped(d.formed(), kUp)) all.insert(all.end(), {t.depth_m, t.half_width_m});
    const PullMeasure best = best_pull(d.formed(), lying_in_part(d.formed()));
    all.insert(all.end(), {best.direction.x(), best.direction.y(), best.draft_rad});
    return all;
  };
  const int before = omp_get_max_threads();
  const auto one = answer(1), three = answer(3);
  omp_set_num_threads(before);
  EXPECT_GT(one.size(), 100U);
  EXPECT_EQ(one, three);
}

}  // namespace
}  // namespace pellicle::checks
