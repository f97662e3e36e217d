// Does the sheet wrap under what stands out, as far as gas pushes it and no farther, whatever the number of threads?
#include "tests/solver/forming/small_run.h"

#include <gtest/gtest.h>
#include <omp.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace pellicle::forming {
namespace {

/// A surface of revolution about z from (radius, height) pairs that begin and end on the axis, from the top down.
mesh::TriangleMesh turned(const std::vector<mesh::Vec2>& section, int around) {
  mesh::TriangleMesh m;
  m.points_m.push_back({0.0, 0.0, section.front().y()});
  for (std::size_t s = 1; s + 1 < section.size(); ++s)
    for (int k = 0; k < around; ++k) {
      const double angle = 2.0 * std::numbers::pi * k / around;
      m.points_m.push_back({section[s].x() * std::cos(angle), section[s].x() * std::sin(angle), section[s].y()});
    }
  m.points_m.push_back({0.0, 0.0, section.back().y()});
  const int last = static_cast<int>(m.points_m.size()) - 1, rings = static_cast<int>(section.size()) - 2;
  const auto point = [&](int ring, int k) { return 1 + ring * around + k % around; };
  for (int k = 0; k < around; ++k) {
    m.triangles.push_back({0, point(0, k), point(0, k + 1)});
    for (int r = 0; r + 1 < rings; ++r) {
      m.triangles.push_back({point(r, k), point(r + 1, k), point(r + 1, k + 1)});
      m.triangles.push_back({point(r, k), point(r + 1, k + 1), point(r, k + 1)});
    }
    m.triangles.push_back({last, point(rings - 1, k + 1), point(rings - 1, k)});
  }
  return m;
}

/// `fine_element` is measured in the flat sheet. Under the cap, stretched to three times that, elements can no longer
/// follow a rim of 2 mm, nor be cut, and how they buckle there hangs on round-off: ten sheets whose thickness
/// differs by 1e-11, each with forces added up in two orders, gave 0.18 to 0.27 of the thickness under the higher
/// pressure, half of them less than 0.225 (docs/limits.md). So it is the middle one of three sheets that is asked, and
/// of each that it is not far off. What is allowed, 0.05, is kept on sharp edges.
constexpr double kRimDepth = 0.26, kMostRimDepth = 0.3, kSharpDepth = 0.08;

constexpr double kCap_m = 8e-3, kStem_m = 4e-3, kUnder_m = 8e-3;

/// A knob: a cap of 8 mm radius, rounded, on a stem of half of that.
mesh::TriangleMesh mushroom() {
  std::vector<mesh::Vec2> section{{0.0, 12e-3}};
  for (int k = 0; k <= 12; ++k) {  // the cap's rim is a half circle of 2 mm radius
    const double turn = std::numbers::pi * k / 12;
    section.push_back({kCap_m - 2e-3 + 2e-3 * std::sin(turn), kUnder_m + 2e-3 + 2e-3 * std::cos(turn)});
  }
  section.insert(section.end(), {{kStem_m, kUnder_m}, {kStem_m, 0.0}, {0.0, 0.0}});
  return turned(section, 48);
}

FormingSpec pressed_over(double pressure_Pa) {
  FormingSpec spec = disc_spec(0.05, 13e-3, 2e-3);
  spec.sheet.fine_element_m = 0.35e-3;
  spec.stages = {lower_to(1e-3, 0.5), press(pressure_Pa)};
  return spec;
}

/// How far under the cap the sheet has come: least radius between the stem's foot and the cap's underside.
double neck_m(const FormingResult& r) {
  double neck = 1.0;
  for (const mesh::Vec3& p : r.points_m)
    if (p.z() > 2e-3 && p.z() < kUnder_m + 1e-3) neck = std::min(neck, p.head<2>().norm());
  return neck;
}

TEST(Undercut, TheSheetWrapsUnderAKnobAndNowhereThroughIt) {
  const mould::RigidMould knob(mushroom(), true);
  double last_neck = 1.0;
  int checked = 0;
  for (const double pressure_Pa : {7e4, 1.5e5}) {
    std::vector<double> depths, necks;
    for (const double thicker : {0.0, 1e-11, 2e-11}) {
      FormingSpec spec = pressed_over(pressure_Pa);
      spec.sheet.thickness_m *= 1.0 + thicker;
      Forming forming(spec, knob, mesh_of(spec));
      ASSERT_TRUE(forming.run({}));
      EXPECT_LT(forming.worst_balance(), 0.02);
      const Penetration deepest = forming.deepest_penetration();
      EXPECT_LT(deepest.of_thickness, kMostRimDepth) << pressure_Pa << " at " << deepest.place_m.transpose();
      depths.push_back(deepest.of_thickness);
      const FormingResult r = forming.result();
      for (std::size_t i = 0; i < r.points_m.size(); ++i) EXPECT_GT(r.gap_m[i], -1e-3 * kBought_m);
      // It is under the cap, more pressure brings it farther, and the stem stops it.
      EXPECT_LT(neck_m(r), kCap_m - 0.3e-3) << pressure_Pa;
      EXPECT_LT(neck_m(r), last_neck) << pressure_Pa;
      EXPECT_GT(neck_m(r), kStem_m * std::cos(std::numbers::pi / 48) - 1e-6);
      necks.push_back(neck_m(r));
      ++checked;
    }
    std::ranges::sort(depths);
    EXPECT_LT(depths[1], kRimDepth) << pressure_Pa;
    last_neck = std::ranges::min(necks);
  }
  EXPECT_EQ(checked, 6);
}

TEST(Undercut, NoThreadLetsItThrough) {
  const mould::RigidMould knob(mushroom(), true);
  const FormingSpec spec = pressed_over(1.5e5);
  const int before = omp_get_max_threads();
  std::vector<FormingResult> results;
  for (const int threads : {1, 2, 3}) {
    omp_set_num_threads(threads);
    Forming forming(spec, knob, mesh_of(spec));
    ASSERT_TRUE(forming.run({}));
    results.push_back(forming.result());
  }
  omp_set_num_threads(before);
  for (const FormingResult& r : results) {
    ASSERT_EQ(r.points_m.size(), results[0].points_m.size());
    for (std::size_t i = 0; i < r.points_m.size(); ++i) ASSERT_EQ(r.points_m[i], results[0].points_m[i]) << i;
  }
  EXPECT_LT(neck_m(results[0]), kCap_m);
}

// Two moulds that touch, one twice as high: a step from one to the other, and a common wall that nothing sees.
TEST(Undercut, TwoMouldsThatTouchAreOne) {
  mesh::TriangleMesh both = mesh::box({-8e-3, -6e-3, 0.0}, {0.0, 6e-3, 6e-3});
  const mesh::TriangleMesh right = mesh::box({0.0, -6e-3, 0.0}, {8e-3, 6e-3, 3e-3});
  const int shift = static_cast<int>(both.points_m.size());
  both.points_m.insert(both.points_m.end(), right.points_m.begin(), right.points_m.end());
  for (const mesh::Triangle& t : right.triangles) both.triangles.push_back({t[0] + shift, t[1] + shift, t[2] + shift});
  FormingSpec spec = disc_spec(0.05, 7e-3, 2e-3);
  spec.sheet.fine_element_m = 0.35e-3;
  spec.stages = {lower_to(0.0), press(4e4)};
  const mould::RigidMould mould(both, true);
  Forming forming(spec, mould, mesh_of(spec));
  ASSERT_TRUE(forming.run({}));
  EXPECT_LT(forming.worst_balance(), 0.02);
  EXPECT_LT(forming.deepest_penetration().of_thickness, kSharpDepth);
  const FormingResult r = forming.result();
  double on_high = 0.0, on_low = 0.0;
  for (std::size_t i = 0; i < r.points_m.size(); ++i) {
    EXPECT_GT(r.gap_m[i], -1e-3 * kBought_m);
    const mesh::Vec3& p = r.points_m[i];
    if (std::fabs(p.y()) > 4e-3) continue;
    if (p.x() > -6e-3 && p.x() < -2e-3) on_high = std::max(on_high, std::fabs(p.z() - 6e-3));
    if (p.x() > 5e-3 && p.x() < 6e-3) on_low = std::max(on_low, std::fabs(p.z() - 3e-3));
  }
  EXPECT_LT(on_high, 1e-6);
  EXPECT_LT(on_low, 0.2e-3);  // it bridges the foot of the step
}

}  // namespace
}  // namespace pellicle::forming
