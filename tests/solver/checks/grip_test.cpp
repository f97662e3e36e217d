// Is the force that lifts a part off the one of a ring that has shrunk on?
#include "solver/checks/grip.h"

#include "mesh/shapes.h"
#include "tests/solver/checks/draped.h"

#include <gtest/gtest.h>

namespace pellicle::checks {
namespace {

using mesh::Vec3;
using std::numbers::pi;

constexpr ShrinkStress kStress{5e6, 5e6 / 0.6};
constexpr double kThick_m = 0.5e-3, kTension_N_m = 5e6 * kThick_m;

double force_N(const Draped& d, double friction, const ShrinkStress& stress = kStress) {
  return lifting_force_N(pressed(held_edges(d.formed(), Vec3::UnitZ()), stress), Vec3::UnitZ(), friction);
}

/// Edges count as held up to half a thickness beyond the sheet's rims, and in samples of half of it: 0.75 of 16 mm.
constexpr double kLonger = 1.0 + 0.75 / 16.0;

/// The sheet on the wall alone, with its rims a little inside.
Draped sleeve(double draft_degrees, int facets) {
  const Profile p = block(15e-3, draft_degrees, facets);
  const auto on = [&](double share) -> mesh::Vec2 { return p[1] + share * (p[2] - p[1]); };
  return {revolved(p, facets), revolved(finer({on(0.1), on(0.9)}, 16), facets)};
}

// Hoop stress s = E alpha dT, pressure s h cos(d)/R on a cone, over 2 pi R L: F = 2 pi L s h cos d (mu cos d - sin d);
// L along the wall. 180 flats turn by 2 tan(1 degree) each, 1e-4 more than the circle.
TEST(Grip, ConeIsTheShrinkingRing) {
  int checked = 0;
  for (const double draft : {0.0, 1.0, 3.0, 8.0}) {
    const Draped d = sleeve(draft, 180);
    const double L = 16e-3 / std::cos(draft * kDegree), mu = 0.2;
    const double expected = 2.0 * pi * L * kTension_N_m * std::cos(draft * kDegree) *
                            (mu * std::cos(draft * kDegree) - std::sin(draft * kDegree));
    EXPECT_GT(force_N(d, mu), 0.999 * expected) << draft;
    EXPECT_LT(force_N(d, mu), kLonger * expected) << draft;
    EXPECT_GT(expected, 5.0);
    ++checked;
  }
  EXPECT_EQ(checked, 4);
  EXPECT_EQ(force_N(sleeve(12.0, 180), 0.2), 0.0) << "tan 12 degrees is more than 0.2: it slips off";
  EXPECT_GT(force_N(sleeve(11.0, 180), 0.2), 0.0);
}

// A tension round a square presses each side with twice itself: 8 s h L, whatever its width.
TEST(Grip, SquareIsPressedAtItsCorners) {
  const double expected = 0.2 * 8.0 * kTension_N_m * 16e-3;
  EXPECT_GT(force_N(sleeve(0.0, 4), 0.2), 0.999 * expected);
  EXPECT_LT(force_N(sleeve(0.0, 4), 0.2), kLonger * expected);
}

// A lid on top of an upright wall, held both ways, pulls its rim inwards: 2 pi R s h/(1 - nu) on the wall besides.
TEST(Grip, LidPullsOnTheRim) {
  const Profile p = block(15e-3, 0.0, 180);
  const Draped lid(p, 180, 1);
  const double wall_N = 2.0 * pi * 20e-3 * kTension_N_m, rim_N = 2.0 * pi * 15e-3 * kTension_N_m / 0.6;
  EXPECT_NEAR(force_N(lid, 0.2), 0.2 * (wall_N + rim_N), 0.02 * 0.2 * (wall_N + rim_N));
  const Draped top({revolved(p, 180)}, revolved(finer({p[0], {14e-3, 20e-3}}, 8), 180));
  EXPECT_EQ(force_N(top, 0.2), 0.0) << "it does not go round the edge";
}

// The top of a dome is held both ways: pressure 2 s h/((1 - nu) R) over its area. The sheet ends in a ragged rim, along
// which edges of one side only are held: half a triangle of 35 across, either way.
TEST(Grip, DomeIsPressedByBothCurvatures) {
  constexpr double kRadius_m = 20e-3;
  const mesh::TriangleMesh ball = mesh::sphere(Vec3::Zero(), kRadius_m, 5);
  mesh::TriangleMesh cap{ball.points_m, {}};
  double area_m2 = 0.0;
  for (const mesh::Triangle& t : ball.triangles) {
    const auto corner = [&](std::size_t k) { return ball.points_m[static_cast<std::size_t>(t[k])]; };
    if ((corner(0) + corner(1) + corner(2)).normalized().z() < std::cos(30.0 * kDegree)) continue;
    cap.triangles.push_back(t);
    area_m2 += 0.5 * (corner(1) - corner(0)).cross(corner(2) - corner(0)).norm();
  }
  ASSERT_GT(cap.triangles.size(), 1000U);
  const Draped d(ball, cap);
  double sum_N = 0.0;
  for (const Pressed& p : pressed(held_edges(d.formed(), Vec3::UnitZ()), kStress)) sum_N += p.force_N;
  const double expected = 2.0 * kTension_N_m / 0.6 / kRadius_m * area_m2;
  EXPECT_NEAR(sum_N, expected, 0.06 * expected);
  EXPECT_EQ(force_N(d, 0.2), 0.0) << "but it lies too flat to hold";
}

TEST(Grip, NothingGripsInACavity) {
  const Profile cup{{0.0, 5e-3},    {10e-3, 5e-3}, {10e-3, 20e-3}, {10.5e-3, 20e-3},
                    {30e-3, 20e-3}, {30e-3, 0.0},  {0.0, 0.0}};
  const Draped d(revolved(cup, 90), revolved(finer({cup[0], cup[1], {10e-3, 19e-3}}, 8), 90));
  EXPECT_EQ(d.demoulding().findings[2].value, 0.0);
  EXPECT_TRUE(held_edges(d.formed(), Vec3::UnitZ()).empty());
}

// Cap and stem of a mushroom: besides the lid's rim the underside pulls on it, held both ways too.
TEST(Grip, UndersidesAreHeldLikeLids) {
  const Draped d({{0.0, 14e-3}, {10e-3, 14e-3}, {10e-3, 10e-3}, {5e-3, 10e-3}, {5e-3, 0.0}, {0.0, 0.0}}, 96, 1);
  const double wall_N = 2.0 * pi * (4e-3 + 10e-3) * kTension_N_m, rim_N = 2.0 * 2.0 * pi * 10e-3 * kTension_N_m / 0.6;
  EXPECT_NEAR(force_N(d, 0.2), 0.2 * (wall_N + rim_N), 0.02 * 0.2 * (wall_N + rim_N));
}

// Little load: p a^4/(64 D); much: a membrane, the cube root. By hand in between: w = h takes (5.33 + 2.6) E h^4/((1 -
// nu^2) a^4).
TEST(Grip, ALiftedPartDomesAsAPlateDoes) {
  const double a = 20e-3, h = 0.5e-3, E = 2e9, nu = 0.4, k = 1.0 - nu * nu;
  const double D = E * h * h * h / (12.0 * k), little_Pa = 1.0;
  const double plate_m = little_Pa * std::pow(a, 4) / (64.0 * D);
  EXPECT_NEAR(lifted_bulge_m(little_Pa, a, h, E, nu), plate_m, 1e-3 * plate_m);  // 5.33 for 16/3
  EXPECT_NEAR(lifted_bulge_m(7.93 * E * std::pow(h / a, 4) / k, a, h, E, nu), h, 1e-9 * h);
  EXPECT_NEAR(lifted_bulge_m(8e8, a, h, E, nu) / lifted_bulge_m(1e8, a, h, E, nu), 2.0, 0.02);
}

TEST(Grip, OnlyWhereThePartTouches) {
  Draped d = sleeve(0.0, 90);
  const double all_N = force_N(d, 0.2);
  for (std::size_t i = 0; i < d.sheet.points_m.size(); ++i) d.sheet.touching[i] = d.sheet.points_m[i].z() > 9.9e-3;
  EXPECT_NEAR(force_N(d, 0.2), 0.5 * all_N, 0.09 * all_N);  // and the next row of 16, with one corner
  d.in_part.assign(d.in_part.size(), 0);
  EXPECT_EQ(force_N(d, 0.2), 0.0);
}

}  // namespace
}  // namespace pellicle::checks
