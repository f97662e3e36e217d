// Is what stands under an overhang told apart from what the sheet can see, and how deep it is?
#include "mesh/visibility.h"
#include "tests/mesh/spoilt_shapes.h"

#include <gtest/gtest.h>

#include <Eigen/Geometry>
#include <algorithm>

#include <cmath>
#include <map>
#include <numbers>

namespace pellicle::mesh {
namespace {

std::map<Sight, double> areas(const TriangleMesh& m, const Visibility& v) {
  std::map<Sight, double> sum;
  for (std::size_t e = 0; e < m.triangles.size(); ++e) {
    const auto& t = m.triangles[e];
    const auto p = [&](int k) -> const Vec3& {
      return m.points_m[static_cast<std::size_t>(t[static_cast<std::size_t>(k)])];
    };
    sum[v.sight[e]] += 0.5 * (p(1) - p(0)).cross(p(2) - p(0)).norm();
  }
  return sum;
}

TEST(Visibility, ABlockStandsOnItsBaseAndIsSeenAllRound) {
  const TriangleMesh m = box({0, 0, 0}, {0.02, 0.01, 0.006});
  const Visibility v = look_from_above(Nearest(m), 0.0);
  auto area = areas(m, v);
  EXPECT_NEAR(area[Sight::kBase], 2e-4, 1e-12);
  EXPECT_NEAR(area[Sight::kSeen], 2e-4 + 3.6e-4, 1e-12);
  EXPECT_EQ(v.undercut_area_m2, 0.0);
  EXPECT_EQ(v.back_area_m2, 0.0);
  // With the floor lower down it hangs in the air.
  EXPECT_NEAR(look_from_above(Nearest(m), -0.01).undercut_area_m2, 2e-4, 1e-12);
}

TEST(Visibility, UnderAKnobItIsAsDeepAsTheCapStandsOut) {
  constexpr double kCap_m = 8e-3, kStem_m = 4e-3;
  const TriangleMesh m = knob(kCap_m, kStem_m);
  const Visibility v = look_from_above(Nearest(m), 0.0);
  auto area = areas(m, v);
  const double ring_m2 = std::numbers::pi * (kCap_m * kCap_m - kStem_m * kStem_m);
  const double stem_m2 = 2.0 * std::numbers::pi * kStem_m * 4e-3;
  EXPECT_NEAR(area[Sight::kOverhang], ring_m2, 0.01 * ring_m2);  // 64 facets
  EXPECT_NEAR(area[Sight::kHidden], stem_m2, 0.01 * stem_m2);
  EXPECT_NEAR(v.undercut_area_m2, ring_m2 + stem_m2, 0.01 * ring_m2);
  // From the stem straight out: directions an eighth of a turn apart at the worst, facets 0.1 % inside the circle.
  EXPECT_NEAR(v.undercut_depth_m, kCap_m - kStem_m, 0.03 * (kCap_m - kStem_m));
  EXPECT_LT(v.deepest_m.head<2>().norm(), 1.01 * kStem_m);
}

TEST(Visibility, DraftDecides) {
  for (const double lean : {-1e-4, 1e-4}) {  // wider at the top, or at the foot
    TriangleMesh m = box({0, 0, 0}, {0.02, 0.01, 0.006});
    for (Vec3& p : m.points_m)
      if (p.z() < 1e-9) p.x() += (p.x() > 0.01 ? lean : -lean);
    const Visibility v = look_from_above(Nearest(m), 0.0);
    if (lean > 0.0) {
      EXPECT_EQ(v.undercut_area_m2, 0.0);
      continue;
    }
    EXPECT_NEAR(v.undercut_area_m2, 2 * 0.01 * 0.006, 1e-7);
    // The middle of a triangle of the wall lies a third or two of the way down.
    EXPECT_GT(v.undercut_depth_m, 0.3 * 1e-4);
    EXPECT_LT(v.undercut_depth_m, 1.0 * 1e-4);
  }
}

TEST(Visibility, ABackIsSeenThroughAHoleAndNotThroughASoundSurface) {
  const TriangleMesh whole = box({0, 0, 0}, {0.02, 0.01, 0.006});
  TriangleMesh m = whole;
  std::erase_if(m.triangles, [&](const Triangle& t) {
    return std::all_of(t.begin(), t.end(), [&](int i) { return m.points_m[static_cast<std::size_t>(i)].z() > 5e-3; });
  });
  ASSERT_EQ(m.triangles.size(), whole.triangles.size() - 2);
  const Visibility v = look_from_above(Nearest(m), 0.0);
  EXPECT_NEAR(v.back_area_m2, 2e-4, 1e-12);
  EXPECT_NEAR(v.back_m.z(), 0.0, 1e-12);
}

}  // namespace
}  // namespace pellicle::mesh
