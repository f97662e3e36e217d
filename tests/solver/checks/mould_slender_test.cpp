// Are thin parts and flat walls found with place and size, and do they bend and buckle as the books say?
#include "solver/checks/mould_slender.h"

#include "tests/solver/checks/printed.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

namespace pellicle::checks {
namespace {

using mesh::Vec2;
using mesh::Vec3;
using std::numbers::pi;

/// A block of 30 x 30 x 5 mm with a fin of 20 mm along y on it.
mesh::TriangleMesh finned(double thick_m, double high_m) {
  mesh::TriangleMesh m = mesh::box({0, 0, 0}, {0.030, 0.030, 0.005});
  const mesh::TriangleMesh fin =
      mesh::box({0.010, 0.005, 0.004}, {0.010 + thick_m, 0.025, 0.005 + high_m});  // stands in the block
  const int n = static_cast<int>(m.points_m.size());
  m.points_m.insert(m.points_m.end(), fin.points_m.begin(), fin.points_m.end());
  for (const mesh::Triangle& t : fin.triangles) m.triangles.push_back({t[0] + n, t[1] + n, t[2] + n});
  return m;
}

Draped under(const mesh::TriangleMesh& mould) {
  Draped d(mould, mesh::box({0, 0, 0}, {0.030, 0.030, 0.005}), 0.75e-3);
  d.spec.temperature_K = 273.15 + 140.0;
  return d;
}

// Uniaxial k = 4 for a square and 4.5 for sides as 1 : sqrt 2; even pressure both ways k = 2 (Timoshenko & Gere, 9.2
// and 9.4; from memory); a short wide plate is a row of columns: k = (b/a)^2 (1 + ...)^2.
TEST(MouldSlender, PlatesBuckleAsTimoshenkoSays) {
  const double b = 0.04, t = 1e-3, E = 2e9, nu = 0.35;
  const double unit_Pa = pi * pi * E / (12.0 * (1.0 - nu * nu)) * (t / b) * (t / b);
  const auto k = [&](double a, double sx, double sy) {
    return plate_load_factor({a, b}, t, {sx, sy}, E, nu) / unit_Pa;
  };
  EXPECT_NEAR(k(b, 1.0, 0.0), 4.0, 1e-9);
  EXPECT_NEAR(k(b * std::sqrt(2.0), 1.0, 0.0), 4.5, 1e-9);
  EXPECT_NEAR(k(3.0 * b, 1.0, 0.0), 4.0, 1e-9);
  EXPECT_NEAR(k(b, 1.0, 1.0), 2.0, 1e-9);
  EXPECT_NEAR(k(0.1 * b, 1.0, 0.0), std::pow(10.0 + 0.1, 2), 1e-9);
  EXPECT_TRUE(std::isinf(k(b, 0.0, 0.0)));
}

// By hand: t = 1, H = 10 mm. pi^2 E t^2/(48 H^2) = pi^2 2e9/4800; 3 q H^2/t^2 = 300 q.
TEST(MouldSlender, RibsBendAndBuckleAsCantilevers) {
  const ThinFeature rib{1e-3, 10e-3, 20e-3, Vec3::Zero()}, post{1e-3, 10e-3, 2e-3, Vec3::Zero()};
  EXPECT_NEAR(one_sided_Pa(rib, 30e6), 1e5, 1e-6);
  EXPECT_NEAR(column_Pa(post, 2e9, 0.4), pi * pi * 2e9 / 4800.0, 1e-3);
  EXPECT_NEAR(column_Pa(rib, 2e9, 0.4), pi * pi * 2e9 / 4800.0 / 0.84, 1e-3);
}

TEST(MouldSlender, AFinIsFoundWithPlaceAndSize) {
  const mesh::Nearest surface(finned(0.8e-3, 10e-3));
  const auto features = thin_features(surface, 4e-3);
  ASSERT_EQ(features.size(), 1U);
  EXPECT_NEAR(features[0].thickness_m, 0.8e-3, 1e-9);
  EXPECT_NEAR(features[0].height_m, 11e-3, 0.7e-3);  // from where it begins; places are a millimetre apart
  EXPECT_NEAR(features[0].length_m, 20e-3, 0.7e-3);
  EXPECT_NEAR(features[0].place_m.x(), 10.4e-3, 1e-9);
  EXPECT_TRUE(thin_features(surface, 0.7e-3).empty());
  EXPECT_TRUE(thin_features(mesh::Nearest(mesh::box({0, 0, 0}, {0.03, 0.03, 0.002})), 4e-3).empty()) << "it lies flat";
}

TEST(MouldSlender, AFinIsAsHighAsDrawn) {
  int checked = 0;
  for (const double high_m : {0.4e-3, 1e-3, 3e-3}) {
    const mesh::Nearest surface(mesh::box({0, 0, 0}, {0.25e-3, 20e-3, high_m}));
    const auto features = thin_features(surface, 4e-3);
    ASSERT_EQ(features.size(), 1U) << high_m;
    // Pieces end where the faces do: round-off.
    EXPECT_NEAR(features[0].height_m, high_m, 1e-12);
    EXPECT_NEAR(features[0].length_m, 20e-3, 0.02e-3);  // its ends are faces too, half their thickness apart
    ++checked;
  }
  EXPECT_EQ(checked, 3);
}

TEST(MouldSlender, TheFinsThicknessDecides) {
  MouldBuild build = printed(2e-3);
  build.inside = mesh::Inside::kSolid;
  const auto of = [&](double thick_m, std::size_t which, double start_K = 296.15) {
    const Draped d = under(finned(thick_m, 10e-3));
    build.start_K = start_K;
    return mould_slender({d.formed(), build}, {4e5, -360.0})[which];
  };
  const Finding thick = of(3e-3, 0), thin = of(1e-3, 0), sliver = of(0.3e-3, 0);
  EXPECT_EQ(thick.verdict, Verdict::kPass) << thick.uncertainty;
  EXPECT_EQ(thin.verdict, Verdict::kDoubt) << thin.uncertainty;
  EXPECT_EQ(sliver.verdict, Verdict::kFail) << sliver.why;
  EXPECT_NE(thin.why.find("1 mm thick"), std::string::npos) << thin.why;
  ASSERT_TRUE(thin.place_m);
  const double high_m = thin_features(mesh::Nearest(finned(1e-3, 10e-3)), 4e-3).front().height_m;
  EXPECT_NEAR(thin.value, 1e-5 * 47.5e6 * 1e-6 / (3.0 * high_m * high_m), 1e-6);
  // pi^2 E t^2/(48 H^2) over 4 bar: E 2.4 GPa cold, 0.17 GPa at 68 degrees C: 3.4 bar by hand.
  EXPECT_EQ(of(1e-3, 1).verdict, Verdict::kPass) << of(1e-3, 1).uncertainty;
  EXPECT_EQ(of(1e-3, 1, 273.15 + 55.0).verdict, Verdict::kDoubt) << of(1e-3, 1, 273.15 + 55.0).uncertainty;
  EXPECT_EQ(of(1e-3, 1, 273.15 + 68.0).verdict, Verdict::kFail) << of(1e-3, 1, 273.15 + 68.0).why;
}

// A pass says why in numbers, and a doubt what to do.
TEST(MouldSlender, WithoutAFinItSaysWhatWasLookedFor) {
  MouldBuild build = printed(2e-3);
  build.inside = mesh::Inside::kSolid;
  const auto of = [&](const mesh::TriangleMesh& mould, const MouldPressing& pressing) {
    const Draped d = under(mould);
    return mould_slender({d.formed(), build}, pressing);
  };
  const MouldPressing pressed{4e5, -360.0};
  const mesh::TriangleMesh block = mesh::box({0, 0, 0}, {0.03, 0.03, 0.005});
  const std::vector<Finding> none = of(block, pressed);
  EXPECT_EQ(none[0].verdict, Verdict::kPass);
  EXPECT_TRUE(std::isnan(none[0].value));
  EXPECT_FALSE(none[0].limit) << "no limit without a number";
  EXPECT_NE(none[0].why.find("thinner than 4 mm"), std::string::npos) << none[0].why;
  EXPECT_EQ(none[1].value, 0.0);
  EXPECT_NE(none[1].why.find("higher than 1.5 times"), std::string::npos) << none[1].why;
  // A step 1 mm wide that stands 0.2 mm out (its foot a millimetre down in the block) is no fin, but the most slender
  // there is: sigma t^2/(3 H^2) of half of 95 MPa, by hand.
  const std::vector<Finding> step = of(finned(1e-3, 0.2e-3), pressed);
  EXPECT_EQ(step[0].verdict, Verdict::kPass) << step[0].why;
  ASSERT_TRUE(step[0].place_m);
  const double high_m = thin_features(mesh::Nearest(finned(1e-3, 0.2e-3)), 4e-3, 0.0).front().height_m;
  EXPECT_LT(high_m, kSlender * 1e-3);
  EXPECT_NEAR(step[0].value, 1e-5 * 47.5e6 * 1e-6 / (3.0 * high_m * high_m), 1e-6);
  EXPECT_NE(step[0].why.find("the most slender is 1 mm thick"), std::string::npos) << step[0].why;
  EXPECT_EQ(step[1].value, 0.0) << "what is not slender does not buckle";
  for (const Finding& f : of(block, {})) {
    EXPECT_EQ(f.verdict, Verdict::kDoubt) << f.id;
    EXPECT_TRUE(std::isnan(f.value)) << f.id;
    EXPECT_FALSE(f.advice.empty()) << f.id;
  }
}

// A hollow box's walls: thickness of the shell decides. By hand for 1 mm: sides pressed in by 4 bar on 60 mm, half of
// it on each of two walls: 12 MPa level; 4 bar x 60 x 60 mm on 240 mm of wall: 6 MPa upright.
TEST(MouldBuckling, TheShellDecides) {
  const Draped d = printed_box(0.060, 0.060, 0.030, 4e5);
  const auto of = [&](double wall_m) {
    const MouldBuild build = printed(wall_m);
    return mould_slender({d.formed(), build}, {4e5, -4e5 * 0.06 * 0.06})[1];
  };
  EXPECT_EQ(wall_panels(*d.mould.surface(), 1e-3).size(), 4U);
  const WallPanel panel = wall_panels(*d.mould.surface(), 1e-3).front();
  EXPECT_NEAR(panel.size_m.x(), 58e-3, 1e-9);
  EXPECT_NEAR(panel.size_m.y(), 29e-3, 1e-9);
  const Finding thin = of(0.5e-3), middle = of(1.5e-3), thick = of(3e-3);
  EXPECT_EQ(thin.verdict, Verdict::kFail) << thin.why;
  EXPECT_EQ(middle.verdict, Verdict::kDoubt) << middle.value << middle.uncertainty;
  EXPECT_EQ(thick.verdict, Verdict::kPass) << thick.uncertainty;
  EXPECT_NEAR(of(1e-3).value, 1.0 / plate_load_factor({58e-3, 29e-3}, 1e-3, {12e6, 6e6}, 2.4e9, 0.37), 1e-3);
}

}  // namespace
}  // namespace pellicle::checks
