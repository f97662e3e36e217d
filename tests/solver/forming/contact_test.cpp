// Does a node that meets the mould land, stick, slide and leave as it should, at one plane and between several?
#include "solver/forming/contact.h"

#include <gtest/gtest.h>
#include <Eigen/QR>

#include <cmath>
#include <limits>
#include <random>
#include <vector>

namespace pellicle::forming {
namespace {

using mesh::Vec3;
using mould::Plane;
using mould::Planes;

constexpr double kDt_s = 1e-4;
constexpr ContactScale kScale{.touch_m = 1e-5, .landed_m = 1e-8, .near_m = 1e-3};  // sheet 1 mm, element 1 mm
constexpr Friction kStick{.stick = true, .coefficient = 0.0};

class Dice {
 public:
  explicit Dice(unsigned seed) : engine_(seed) {}
  double in(double low, double high) { return low + (high - low) * static_cast<double>(engine_()) / 4294967296.0; }
  Vec3 direction() {
    for (;;) {
      const Vec3 d{in(-1, 1), in(-1, 1), in(-1, 1)};
      if (d.norm() > 0.1 && d.norm() < 1.0) return d.normalized();
    }
  }

 private:
  std::mt19937 engine_;
};

std::size_t at(int i) { return static_cast<std::size_t>(i); }

double floor_m_s(const Plane& p) { return p.gap_m > 0.0 ? -p.gap_m / kDt_s : 0.0; }

Planes planes_of(std::initializer_list<Plane> list) {
  Planes p;
  for (const Plane& plane : list) p.add(plane);
  return p;
}

Touch untouched() { return {.first_s = std::numeric_limits<double>::quiet_NaN()}; }

/// Closest allowed velocity among all meetings of up to three planes, by least squares in each.
Vec3 brute_projection(const Planes& planes, const Vec3& wanted) {
  Vec3 best = Vec3::Zero();  // standing still is always allowed
  const auto consider = [&](const Vec3& v) {
    for (int k = 0; k < planes.count; ++k)
      if (planes.at[at(k)].normal.dot(v) < floor_m_s(planes.at[at(k)]) - 1e-9 * wanted.norm()) return;
    if ((v - wanted).norm() < (best - wanted).norm()) best = v;
  };
  consider(wanted);
  for (int mask = 1; mask < (1 << planes.count); ++mask) {
    std::vector<int> chosen;
    for (int k = 0; k < planes.count; ++k)
      if (mask & (1 << k)) chosen.push_back(k);
    if (chosen.size() > 3) continue;
    const auto m = static_cast<Eigen::Index>(chosen.size());
    Eigen::MatrixXd n(m, 3);
    Eigen::VectorXd missing(m);
    for (Eigen::Index r = 0; r < m; ++r) {
      const Plane& p = planes.at[at(chosen[static_cast<std::size_t>(r)])];
      n.row(r) = p.normal.transpose();
      missing[r] = floor_m_s(p) - p.normal.dot(wanted);
    }
    const Vec3 least = n.completeOrthogonalDecomposition().solve(missing);
    consider(wanted + least);
  }
  return best;
}

TEST(ClearOf, IsTheProjectionOntoWhatThePlanesAllow) {
  Dice dice(11);
  int checked = 0, pushed = 0, by_three = 0;
  for (int trial = 0; trial < 6000; ++trial) {
    Planes planes;
    const int count = 1 + trial % 5;
    for (int k = 0; k < count; ++k) {
      const double gap = dice.in(0, 1) < 0.3 ? 0.0 : dice.in(-1e-6, 1e-4);
      planes.add({dice.direction(), gap});
    }
    const Vec3 wanted = dice.direction() * dice.in(0.1, 3.0);
    const Cleared c = clear_of(planes, wanted, kDt_s);
    // Random normals come as close as 1 degree or so: the Gram matrix loses some five of sixteen digits there.
    const double tolerance = 1e-9 * wanted.norm();
    Vec3 sum = Vec3::Zero();
    int active = 0;
    for (int k = 0; k < planes.count; ++k) {
      const Plane& p = planes.at[at(k)];
      const double push = c.push_m_s[at(k)], above = p.normal.dot(c.v_m_s) - floor_m_s(p);
      EXPECT_GE(above, -tolerance) << trial;
      EXPECT_GE(push, 0.0) << trial;
      if (push > tolerance) {
        EXPECT_NEAR(above, 0.0, tolerance) << trial;  // only a plane that it lies on pushes
        ++active;
      }
      sum += push * p.normal;
    }
    EXPECT_LT((c.v_m_s - wanted - sum).norm(), tolerance) << trial;
    EXPECT_LT((c.v_m_s - brute_projection(planes, wanted)).norm(), 1e-6 * wanted.norm()) << trial;  // least squares
    EXPECT_EQ(c.pushed, active > 0 || c.v_m_s != wanted) << trial;
    pushed += c.pushed ? 1 : 0;
    by_three += active == 3 ? 1 : 0;
    ++checked;
  }
  EXPECT_EQ(checked, 6000);
  EXPECT_GT(pushed, 2000);
  EXPECT_GT(by_three, 100);  // corners are among the cases
}

TEST(ClearOf, LeavesAFreeVelocityAloneToTheLastBit) {
  const Vec3 away{0.3, -0.2, 0.1};
  const Cleared c = clear_of(planes_of({{Vec3::UnitZ(), 0.0}, {Vec3::UnitX(), 0.0}}), away, kDt_s);
  EXPECT_EQ(c.v_m_s, away);
  EXPECT_FALSE(c.pushed);
}

TEST(ClearOf, NeverSpeedsANodeUp) {
  Dice dice(5);
  int checked = 0;
  for (int trial = 0; trial < 2000; ++trial) {
    Planes planes;
    for (int k = 0; k < 1 + trial % 5; ++k) planes.add({dice.direction(), dice.in(0.0, 1e-4)});
    const Vec3 wanted = dice.direction();
    EXPECT_LE(clear_of(planes, wanted, kDt_s).v_m_s.norm(), 1.0 + 1e-9);  // round-off of the small solve
    ++checked;
  }
  EXPECT_EQ(checked, 2000);
}

TEST(Meet, LandsExactlyAndKeepsItsWayAlong) {
  Touch touch = untouched();
  const Vec3 x{0.01, 0.02, 4e-5}, wanted{0.5, 0.0, -2.0};  // would end 0.16 mm below
  const Meeting m = meet(kStick, kScale, planes_of({{Vec3::UnitZ(), 4e-5}}), x, wanted, kDt_s, 0.3, touch);
  EXPECT_NEAR((x + m.v_m_s * kDt_s).z(), 0.0, 1e-18);  // round-off of the gap
  EXPECT_DOUBLE_EQ(m.v_m_s.x(), 0.5);                  // landing is not yet lying: no friction in this step
  EXPECT_EQ(m.load_m_s, 0.0);                          // and it is left out of the contact pressure
  EXPECT_GT(m.normal_m_s.z(), 0.0);
  EXPECT_EQ(touch.pressed, 1);
  EXPECT_EQ(touch.anchored, 0);
}

TEST(Meet, OutOfReachNothingHappens) {
  Touch touch = untouched();
  const Vec3 wanted{0.5, 0.1, -0.1};
  const Meeting m = meet(kStick, kScale, planes_of({{Vec3::UnitZ(), 4e-5}}), {0, 0, 4e-5}, wanted, kDt_s, 0.3, touch);
  EXPECT_EQ(m.v_m_s, wanted);
  EXPECT_EQ(touch.touching, 0);
  EXPECT_TRUE(std::isnan(touch.first_s));
}

TEST(Meet, SticksWhereItIsLoadedAndStandsStill) {
  Touch touch = untouched();
  const Vec3 x{0.01, 0.02, 0.0};
  const Planes floor = planes_of({{Vec3::UnitZ(), 0.0}});
  const Meeting m = meet(kStick, kScale, floor, x, {0.5, -0.2, -0.001}, kDt_s, 0.3, touch);
  EXPECT_EQ(m.v_m_s, Vec3(0, 0, 0));
  EXPECT_EQ(touch.anchored, 1);
  EXPECT_EQ(touch.anchor_m, x);
  EXPECT_EQ(touch.first_s, 0.3);
  EXPECT_FALSE(m.slid);
  EXPECT_DOUBLE_EQ(m.load_m_s, 0.001);
  meet(kStick, kScale, floor, x, {0.5, -0.2, -0.001}, kDt_s, 0.4, touch);
  EXPECT_EQ(touch.first_s, 0.3);  // the first touch is remembered
}

TEST(Meet, CoulombSticksBelowItsLimitAndSlidesAtIt) {
  const Friction friction{.stick = false, .coefficient = 0.3};
  const Planes floor = planes_of({{Vec3::UnitZ(), 0.0}});
  int checked = 0;
  for (const double along : {0.1, 0.299, 0.301, 0.5, 2.0}) {
    Touch touch = untouched();
    const Vec3 direction{0.6, 0.8, 0.0};
    const Meeting m = meet(friction, kScale, floor, Vec3::Zero(), along * direction - Vec3::UnitZ(), kDt_s, 0.0, touch);
    EXPECT_NEAR(m.v_m_s.z(), 0.0, 1e-15);
    EXPECT_DOUBLE_EQ(m.load_m_s, 1.0);
    EXPECT_EQ(m.slid, along > 0.3);
    // Friction takes all of it, or 0.3 of the normal impulse, straight against it; round-off.
    EXPECT_LT((m.tangential_m_s + std::fmin(along, 0.3) * direction).norm(), 1e-14);
    EXPECT_LT((m.v_m_s - std::fmax(0.0, along - 0.3) * direction).norm(), 1e-14);
    ++checked;
  }
  EXPECT_EQ(checked, 5);
}

TEST(Meet, WithoutFrictionItKeepsItsWay) {
  Touch touch = untouched();
  const Meeting m = meet({.stick = false, .coefficient = 0.0}, kScale, planes_of({{Vec3::UnitZ(), 0.0}}), Vec3::Zero(),
                         {0.4, 0.3, -1.0}, kDt_s, 0.0, touch);
  EXPECT_EQ(m.v_m_s, Vec3(0.4, 0.3, 0.0));
  EXPECT_EQ(m.tangential_m_s, Vec3(0, 0, 0));
}

TEST(Meet, APulledNodeLeavesAtOnceWithoutFriction) {
  Touch touch = untouched();
  const Vec3 away{0.4, 0.0, 0.2};
  const Meeting m = meet({.stick = false, .coefficient = 0.3}, kScale, planes_of({{Vec3::UnitZ(), 0.0}}), Vec3::Zero(),
                         away, kDt_s, 0.0, touch);
  EXPECT_EQ(m.v_m_s, away);
  EXPECT_EQ(m.load_m_s, 0.0);
  EXPECT_EQ(touch.pressed, 0);
}

TEST(Meet, AnAnchorHoldsUntilTheSheetHasLiftedByAHundredthOfItsThickness) {
  const Vec3 x0{0.01, 0.02, 0.0}, pull{0.3, 0.1, 0.05};
  Touch touch = untouched();
  meet(kStick, kScale, planes_of({{Vec3::UnitZ(), 0.0}}), x0, {0, 0, -1}, kDt_s, 0.0, touch);
  ASSERT_EQ(touch.anchored, 1);
  // Lifted by half of it and pulled aside: it may rise, but not creep, and goes back to where it was.
  const Vec3 aside = x0 + Vec3(1e-7, 0.0, 0.5 * kScale.touch_m);
  const Planes below = planes_of({{Vec3::UnitZ(), 0.5 * kScale.touch_m}});
  Meeting m = meet(kStick, kScale, below, aside, pull, kDt_s, 0.0, touch);
  EXPECT_EQ(touch.anchored, 1);
  EXPECT_DOUBLE_EQ(m.v_m_s.z(), pull.z());
  EXPECT_LT((aside + m.v_m_s * kDt_s - x0).head<2>().norm(), 1e-17);  // round-off of 0.02
  // Above: free.
  const Planes far = planes_of({{Vec3::UnitZ(), 1.1 * kScale.touch_m}});
  m = meet(kStick, kScale, far, x0 + Vec3(0, 0, 1.1 * kScale.touch_m), pull, kDt_s, 0.0, touch);
  EXPECT_EQ(touch.anchored, 0);
  EXPECT_EQ(touch.touching, 0);
  EXPECT_EQ(m.v_m_s, pull);
  // And with nothing in reach at all.
  touch.anchored = touch.touching = 1;
  m = meet(kStick, kScale, Planes{}, x0, pull, kDt_s, 0.0, touch);
  EXPECT_EQ(touch.anchored + touch.touching, 0);
  EXPECT_EQ(m.v_m_s, pull);
}

// On the inner slope of a ridge, drawn outwards: the edge's plane beside it is nearer but does not push. Held along
// that plane it would climb the slope and the sheet would slip off the ridge.
TEST(Meet, SticksToWhatPushesNotToWhatIsNearest) {
  const Vec3 slope = Vec3{0.45, 0.13, 0.88}.normalized(), over = Vec3{-0.45, 0.0, 0.89}.normalized();
  const Vec3 x{1.0, 2.0, 3.0};
  Touch touch = untouched();
  const Planes alone = planes_of({{slope, 0.0}});
  meet(kStick, kScale, alone, x, {0.0, 0.0, -1.0}, kDt_s, 0.5, touch);
  ASSERT_EQ(touch.anchored, 1);
  const Planes both = planes_of({{slope, 0.0}, {over, -2e-9, true}});
  ASSERT_TRUE(both.at[0].by_crease);
  const Vec3 drawn{-1.0, 0.0, -0.2};
  ASSERT_LT(slope.dot(drawn), 0.0);
  ASSERT_GT(over.dot(drawn), 0.0);
  const Meeting m = meet(kStick, kScale, both, x, drawn, kDt_s, 0.5, touch);
  EXPECT_EQ(m.v_m_s.norm(), 0.0);
  EXPECT_EQ(touch.normal, slope);
}

TEST(Meet, InsideTheMouldItIsPutBackWithoutVelocity) {
  Touch touch = untouched();
  const Meeting m =
      meet(kStick, kScale, planes_of({{Vec3::UnitZ(), -2e-6}}), {0, 0, -2e-6}, {0, 0, -1}, kDt_s, 0.0, touch);
  EXPECT_EQ(m.v_m_s.z(), 0.0);
  EXPECT_DOUBLE_EQ(m.put_back_m.z(), 2e-6);
}

TEST(Meet, AtAFootBetweenWallAndFloorItIsAtRest) {
  const Planes foot = planes_of({{Vec3::UnitZ(), 0.0}, {Vec3::UnitX(), 0.0}});
  Touch touch = untouched();
  const Meeting stuck = meet(kStick, kScale, foot, Vec3::Zero(), {-1.0, 0.4, -2.0}, kDt_s, 0.0, touch);
  EXPECT_EQ(stuck.v_m_s, Vec3(0, 0, 0));
  EXPECT_DOUBLE_EQ(stuck.load_m_s, 3.0);
  // Coulomb: below the limit of both loads it stands, above it slides along the foot and out of neither.
  touch = untouched();
  const Meeting stands =
      meet({.stick = false, .coefficient = 0.3}, kScale, foot, Vec3::Zero(), {-1.0, 0.4, -2.0}, kDt_s, 0.0, touch);
  EXPECT_LT(stands.v_m_s.norm(), 1e-14);
  touch = untouched();
  const Meeting slides =
      meet({.stick = false, .coefficient = 0.3}, kScale, foot, Vec3::Zero(), {-1.0, 1.5, -2.0}, kDt_s, 0.0, touch);
  EXPECT_LT((slides.v_m_s - Vec3(0.0, 1.5 - 0.9, 0.0)).norm(), 1e-14);
  EXPECT_TRUE(slides.slid);
}

}  // namespace
}  // namespace pellicle::forming
