// Do vents that are advised, put into the case, let the air out when it is formed again?
#include "solver/vents.h"

#include "mesh/shapes.h"
#include "solver/prepare.h"
#include "solver/run.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <string>
#include <utility>
#include <vector>

namespace pellicle {
namespace {

constexpr double kTop_m = 15e-3;

/// A disc of soft rubber on a flat-bottomed cup of 40 mm, 8 mm deep: 2 bar, held for a while.
Case cup_case() {
  Case c{};
  c.sheet.law = sheet::NeoHookean{0.3e6};
  c.sheet.density_kg_m3 = 1200.0;
  c.sheet.thickness_m = 1e-3;
  c.sheet.outline = {mesh::Disc{56e-3}, mesh::Vec2::Zero()};
  c.sheet.height_m = kTop_m;
  c.sheet.element_m = c.sheet.rim_element_m = 2e-3;
  c.sheet.temperature_K = 420.0;
  c.mould = MouldSpec{.platform = true, .friction = {.stick = true, .coefficient = 0.0}};
  c.stages = {{"press", 0.5, PressureDrive{2e5}, {}}, {"hold", 1.0, PressureDrive{2e5}, {}}};
  c.trim = HeightTrim{1e-3};
  c.numerics.frames = 2;
  return c;
}

Geometry cup() { return {mesh::cup(20e-3, 8e-3, kTop_m, 35e-3, 64, 4)}; }

const checks::Finding& finding(const CaseResult& r, const std::string& id) {
  return *std::find_if(r.findings.begin(), r.findings.end(), [&](const checks::Finding& f) { return f.id == id; });
}

TEST(Vents, AdvisedOnesLetTheAirOut) {
  Case c = cup_case();
  const CaseResult sealed = run(c, cup(), {});
  EXPECT_EQ(finding(sealed, "pockets").verdict, checks::Verdict::kFail) << finding(sealed, "pockets").why;
  EXPECT_GT(finding(sealed, "pockets").value, 1.0);  // a third of 8 mm by the isothermal balance
  ASSERT_FALSE(sealed.vents.empty());
  RecordProperty("advised", static_cast<int>(sealed.vents.size()));
  for (const VentPoint& v : sealed.vents) {
    ASSERT_EQ(v.origin, VentPoint::Origin::kAdvised);
    c.mould->vents.push_back({v.place_m.head<2>(), {.diameter_m = v.diameter_m, .land_m = 2e-3}});
  }
  const CaseResult vented = run(c, cup(), {});
  EXPECT_EQ(finding(vented, "pockets").verdict, checks::Verdict::kPass) << finding(vented, "pockets").why;
  EXPECT_GT(vented.snapshot.air.vented_kg, 0.9 * vented.snapshot.air.shut_in_kg);  // the rest fills what stays open
}

TEST(Vents, NotFollowedNothingIsSaid) {
  Case c = cup_case();
  const Geometry geometry = cup();
  const mould::RigidMould mould = make_mould(c, geometry);
  EXPECT_TRUE(air_spec(c, mould).has_value());
  EXPECT_TRUE(air_spec(c, mould)->platform_leaks && !air_spec(c, mould)->adiabatic);
  c.mould->platform_leaks = false, c.numerics.adiabatic_air = true;
  EXPECT_TRUE(!air_spec(c, mould)->platform_leaks && air_spec(c, mould)->adiabatic);
  c.numerics.trapped_air = false;
  EXPECT_FALSE(air_spec(c, mould).has_value());
  c.numerics.trapped_air = true;
  EXPECT_FALSE(air_spec(c, mould::RigidMould({}, true)).has_value());  // the platform alone is perforated
  c.mould.reset();
  EXPECT_FALSE(air_spec(c, mould::RigidMould({}, false)).has_value());
}

/// A square plate with an upright square hole through it: its section has the area of a circle of 0.5 mm.
mesh::TriangleMesh drilled_plate(double side_m) {
  const double out = 10e-3, in = 0.5 * side_m, top = 4e-3;
  mesh::TriangleMesh m;
  for (const double z : {0.0, top})
    for (const double r : {out, in})
      for (const auto& [sx, sy] : {std::pair{-1, -1}, {1, -1}, {1, 1}, {-1, 1}})
        m.points_m.emplace_back(sx * r, sy * r, z);
  const auto quad = [&](int a, int b, int c, int d) {
    m.triangles.push_back({a, b, c});
    m.triangles.push_back({a, c, d});
  };
  for (int k = 0; k < 4; ++k) {
    const int n = (k + 1) % 4;
    quad(k, n, 8 + n, 8 + k);            // outside
    quad(4 + n, 4 + k, 12 + k, 12 + n);  // hole
    quad(8 + k, 8 + n, 12 + n, 12 + k);  // top
    quad(n, k, 4 + k, 4 + n);            // underside
  }
  return m;
}

TEST(Vents, HolesDrawnInTheMouldCountOnceAndThoseOfTheCaseFirst) {
  Case c = cup_case();
  const double side_m = 0.5e-3 * std::sqrt(std::numbers::pi) / 2.0;
  const mould::RigidMould mould(drilled_plate(side_m), true);
  const auto drawn = air_spec(c, mould);
  ASSERT_TRUE(drawn && drawn->vents.size() == 1U);
  EXPECT_NEAR(drawn->vents[0].hole.diameter_m, 0.5e-3, 0.02e-3);  // 32 rays into a square's corners
  EXPECT_NEAR(drawn->vents[0].at_m.norm(), 0.0, 0.01e-3);
  c.mould->vents = {{{5e-3, 0.0}, {.diameter_m = 0.3e-3}}, {{0.1e-3, 0.0}, {.diameter_m = 0.6e-3}}};
  const auto both = air_spec(c, mould);
  ASSERT_TRUE(both && both->vents.size() == 2U);  // the second is the drawn one, as the case tells it
  EXPECT_EQ(both->vents[1].hole.diameter_m, 0.6e-3);
  std::vector<std::string> warnings;
  warn_of_vents(c, mould, warnings);
  EXPECT_TRUE(warnings.empty());
  c.mould->vents.push_back({{15e-3, 0.0}, {.diameter_m = 0.3e-3}});  // on the platform
  warn_of_vents(c, mould, warnings);
  ASSERT_EQ(warnings.size(), 1U);
  EXPECT_NE(warnings[0].find("mould.vents[3]"), std::string::npos);
}

/// A plate 2 mm high with a boss of 3 mm more over x > 4 mm.
mesh::TriangleMesh stepped() {
  mesh::TriangleMesh m = mesh::box({-10e-3, -10e-3, 0.0}, {10e-3, 10e-3, 2e-3});
  const mesh::TriangleMesh boss = mesh::box({4e-3, -5e-3, 1e-3}, {8e-3, 5e-3, 5e-3});
  const int n = static_cast<int>(m.points_m.size());
  m.points_m.insert(m.points_m.end(), boss.points_m.begin(), boss.points_m.end());
  for (const mesh::Triangle& t : boss.triangles) m.triangles.push_back({t[0] + n, t[1] + n, t[2] + n});
  return m;
}

TEST(Vents, ASlotOpensWhereItIs) {
  const mould::RigidMould mould(stepped(), true);
  const PlacedVent slot{mesh::Vec2::Zero(), {.diameter_m = 0.4e-3, .slot_m = 10e-3}};
  // Heights to round-off.
  EXPECT_NEAR(opening_m(mould, slot).value(), 2e-3, 1e-12);  // not on the boss within its length
  const mould::RigidMould drilled(drilled_plate(0.5e-3), true);
  EXPECT_NEAR(opening_m(drilled, {mesh::Vec2::Zero(), {.diameter_m = 0.5e-3}}).value(), 4e-3,
              1e-12);                                                                    // not at the foot of the hole
  EXPECT_EQ(opening_m(drilled, {{10.1e-3, 0.0}, {.diameter_m = 0.5e-3}}).value(), 0.0);  // beside the mould
}

TEST(Vents, AHollowBesideASlotKeepsItsAir) {
  const mould::RigidMould mould(stepped(), true);
  const AirSpec air{{{mesh::Vec2::Zero(), {.diameter_m = 0.4e-3, .slot_m = 10e-3}}}};
  constexpr double kWithin_m = 0.05e-3;
  EXPECT_TRUE(lets_out(air, mould, {0.24e-3, 0.0}, kWithin_m));
  EXPECT_FALSE(lets_out(air, mould, {0.0, 2e-3}, kWithin_m));
}

TEST(Vents, ATightPlatformLetsNothingOut) {
  const mould::RigidMould mould(stepped(), true);
  AirSpec air;
  EXPECT_TRUE(lets_out(air, mould, {15e-3, 0.0}, 0.05e-3));
  air.platform_leaks = false;
  EXPECT_FALSE(lets_out(air, mould, {15e-3, 0.0}, 0.05e-3));
  Case c = cup_case();
  c.mould->vents = {{{15e-3, 0.0}, {.diameter_m = 0.3e-3}}};
  std::vector<std::string> warnings;
  c.mould->platform_leaks = false;
  warn_of_vents(c, mould, warnings);
  EXPECT_TRUE(warnings.empty());  // a hole in a tight platform is a vent
  c.mould->platform_leaks = true;
  warn_of_vents(c, mould, warnings);
  EXPECT_EQ(warnings.size(), 1U);
}

}  // namespace
}  // namespace pellicle
