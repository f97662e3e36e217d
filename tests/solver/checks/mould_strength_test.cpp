// Is the whole load on the mould, and do the findings turn where they should?
#include "solver/checks/mould_strength.h"

#include "mesh/check.h"
#include "solver/checks/mould_cells.h"
#include "tests/solver/checks/printed.h"

#include <gtest/gtest.h>
#include <omp.h>

#include <cmath>
#include <optional>
#include <tuple>

namespace pellicle::checks {
namespace {

using mesh::Vec3;

enum { kStress, kDeflection };
Finding finding(const MouldStrength& s, int which) { return s.findings.at(static_cast<std::size_t>(which)); }

// Sides cancel, the lid is left: pressure times its area, first as the sheet's, then as the cells have it.
TEST(MouldLoad, IsPressureTimesArea) {
  const Draped d = printed_box(0.024, 0.020, 0.010, 4e5);
  const MouldLoad load = mould_load(d.formed(), 0.5e-3);
  const double lid_m2 = 0.024 * 0.020, all_m2 = lid_m2 + 2.0 * 0.010 * (0.024 + 0.020);
  EXPECT_NEAR(load.area_m2, all_m2, 1e-12 * all_m2);
  EXPECT_NEAR((load.sum_N - Vec3(0, 0, -4e5 * lid_m2)).norm(), 0.0, 1e-10 * 4e5 * lid_m2);  // sums of thousands
  const MouldBuild build = printed(2e-3);
  const MouldSolution s = solve_mould({d.formed(), build}, load, 1e-3, 1.5e-3);
  EXPECT_NEAR((s.load_N - Vec3(0, 0, -4e5 * lid_m2)).norm(), 0.0, 1e-10 * 4e5 * lid_m2);
  EXPECT_GT(s.shift_m, 0.0);
}

TEST(MouldLoad, CountsWhatTouchesTheMouldAndNoLessThanTheGas) {
  Draped d = printed_box(0.024, 0.020, 0.010, 4e5);
  d.sheet.pressure_since_Pa.assign(d.sheet.points_m.size(), 5e5);  // the mean of contact lags behind
  EXPECT_NEAR(mould_load(d.formed(), 1e-3).sum_N.z(), -5e5 * 0.024 * 0.020, 1e-6);
  for (std::size_t i = 0; i < d.sheet.points_m.size(); ++i) d.sheet.touching[i] = d.sheet.points_m[i].z() > 0.005;
  // Pressure falls to none at the foot: on the sides the mean is half of it. On the lid nothing changes.
  const MouldLoad half = mould_load(d.formed(), 1e-3);
  EXPECT_NEAR(half.sum_N.z(), -5e5 * 0.024 * 0.020, 1e-6);
  double sideways_N = 0.0;
  for (const mould::PlacedForce& f : half.forces) sideways_N += std::abs(f.force_N.x()) + std::abs(f.force_N.y());
  EXPECT_NEAR(sideways_N, 0.5 * 5e5 * 2.0 * 0.010 * (0.024 + 0.020), 1e-6);
  d.sheet.touching.assign(d.sheet.points_m.size(), 0);
  EXPECT_TRUE(mould_load(d.formed(), 1e-3).forces.empty());
  const MouldBuild build = printed(2e-3);
  const MouldStrength none = mould_strength({d.formed(), build});
  EXPECT_EQ(finding(none, kStress).verdict, Verdict::kDoubt);
  EXPECT_TRUE(std::isnan(finding(none, kStress).value));
}

/// A sheet of 6 x 5 pieces over a box of 24 x 20 x 10 mm: its edge touches the lid, the middle stands 1 mm above it
/// over shut-in air.
Draped over_shut_in_air(double contact_Pa, double pocket_Pa) {
  constexpr int kX = 6, kY = 5;
  mesh::TriangleMesh sheet;
  for (int j = 0; j <= kY; ++j)
    for (int i = 0; i <= kX; ++i) {
      const bool edge = i == 0 || j == 0 || i == kX || j == kY;
      sheet.points_m.push_back({4e-3 * i, 4e-3 * j, edge ? 10e-3 : 11e-3});
    }
  for (int j = 0; j < kY; ++j)
    for (int i = 0; i < kX; ++i) {
      const int a = j * (kX + 1) + i, c = a + kX + 2;
      sheet.triangles.push_back({a, a + 1, c});
      sheet.triangles.push_back({a, c, c - 1});
    }
  Draped d(mesh::box({0, 0, 0}, {0.024, 0.020, 0.010}), sheet, 0.75e-3);
  const std::size_t n = d.sheet.points_m.size();
  d.sheet.contact_pressure_Pa.assign(n, 0.0);
  d.sheet.pressure_since_Pa.assign(n, 0.0);
  d.sheet.pocket.assign(n, forming::kNoPocket);
  d.sheet.pocket_pressure_Pa.assign(n, 0.0);
  for (std::size_t i = 0; i < n; ++i) {
    d.sheet.touching[i] = d.sheet.points_m[i].z() < 10.5e-3;
    if (d.sheet.touching[i])
      d.sheet.contact_pressure_Pa[i] = contact_Pa;
    else
      d.sheet.pocket[i] = 3, d.sheet.pocket_pressure_Pa[i] = pocket_Pa;
  }
  return d;
}

// Gas over a sheet in balance is borne by contact and shut-in air, which both press on the mould. Straight down a piece
// pushes with its mean pressure times its area seen from above, whatever its slope.
TEST(MouldLoad, ShutInAirPressesOnTheMould) {
  constexpr double kContact_Pa = 5e5, kPocket_Pa = 3e5, kLid_m2 = 0.024 * 0.020;
  Draped d = over_shut_in_air(kContact_Pa, kPocket_Pa);
  double expected_N = 0.0;
  for (const mesh::Triangle& t : d.sheet.triangles)
    for (const int n : t)
      expected_N += 8e-6 / 3.0 * (d.sheet.touching[static_cast<std::size_t>(n)] != 0 ? kContact_Pa : kPocket_Pa);
  EXPECT_NEAR(mould_load(d.formed(), 1e-3).sum_N.z(), -expected_N, 1e-9 * expected_N);  // sums of some thousand pieces
  const Draped even = over_shut_in_air(4e5, 4e5);
  EXPECT_NEAR(mould_load(even.formed(), 1e-3).sum_N.z(), -4e5 * kLid_m2, 1e-9 * 4e5 * kLid_m2);
  // Air thinner than outside does not lift the mould, free air does not press, nor does air where none was followed.
  const double contact_N = mould_load(over_shut_in_air(kContact_Pa, 0.0).formed(), 1e-3).sum_N.z();
  EXPECT_LT(contact_N, 0.0);
  EXPECT_GT(contact_N, -expected_N + 1.0);
  EXPECT_EQ(mould_load(over_shut_in_air(kContact_Pa, -5e4).formed(), 1e-3).sum_N.z(), contact_N);
  // A rim that lies on the mould is held by the clamp, and bears the gas.
  Draped held = over_shut_in_air(0.0, kPocket_Pa);
  held.sheet.on_rim = held.sheet.touching;
  held.sheet.touching.assign(held.sheet.touching.size(), 0);
  held.sheet.pressure_Pa = kContact_Pa;
  EXPECT_NEAR(mould_load(held.formed(), 1e-3).sum_N.z(), -expected_N, 1e-9 * expected_N);
  d.sheet.pocket.clear(), d.sheet.pocket_pressure_Pa.clear();
  EXPECT_EQ(mould_load(d.formed(), 1e-3).sum_N.z(), contact_N);
}

// Beside the mould shut-in air presses on the platform.
TEST(MouldLoad, ShutInAirOverThePlatformIsNotTheMoulds) {
  Draped d = over_shut_in_air(0.0, 3e5);
  d.mould = mould::RigidMould(mesh::box({0.1, 0, 0}, {0.124, 0.020, 0.010}), true);
  EXPECT_TRUE(mould_load(d.formed(), 1e-3).forces.empty());
  d.mould = mould::RigidMould(mesh::box({0.1, 0, 0}, {0.124, 0.020, 0.010}), false);
  EXPECT_FALSE(mould_load(d.formed(), 1e-3).forces.empty());
}

// Lid of a box, between a clamped and a supported plate of its span (Roark: 0.0138 and 0.0444 q b^4/(E t^3), clamped
// edge 0.308 and supported middle 0.287 q b^2/t^2; from memory). The foot slides at the high ends.
TEST(MouldStrength, WallDecides) {
  constexpr double kHard_Pa = 7e5;
  const Draped d = printed_box(0.024, 0.024, 0.010, kHard_Pa);
  const auto of = [&](double wall_m) {
    const MouldBuild build = printed(wall_m);
    return mould_strength({d.formed(), build});
  };
  const MouldStrength thick = of(2.5e-3), middle = of(1.5e-3), thin = of(1e-3);
  for (const int which : {kStress, kDeflection}) {
    EXPECT_EQ(finding(thick, which).verdict, Verdict::kPass) << finding(thick, which).uncertainty;
    EXPECT_EQ(finding(thin, which).verdict, Verdict::kFail) << finding(thin, which).uncertainty;
  }
  EXPECT_EQ(finding(middle, kStress).verdict, Verdict::kDoubt) << finding(middle, kStress).uncertainty;
  EXPECT_NE(finding(thin, kStress).advice.find("a shell of "), std::string::npos) << finding(thin, kStress).advice;
  EXPECT_NE(finding(thin, kStress).advice.find("plaster this shell holds"), std::string::npos)
      << finding(thin, kStress).advice;
  EXPECT_NE(finding(thin, kStress).why.find("open below"), std::string::npos);
  const double sag_mm = finding(thin, kDeflection).value, span_m = 0.022;
  const double plate_mm = 1e3 * kHard_Pa * std::pow(span_m, 4) / (2.4e9 * 1e-9);
  EXPECT_GT(sag_mm, 0.0138 * plate_mm);
  EXPECT_LT(sag_mm, 0.0444 * plate_mm);
  const double bent_MPa = 1e-6 * kHard_Pa * span_m * span_m / 1e-6;
  EXPECT_GT(finding(thin, kStress).value, 0.138 * bent_MPa);  // middle of a clamped plate
  EXPECT_LT(finding(thin, kStress).value, 0.4 * bent_MPa);    // 0.308 at a clamped edge, and what the corner adds
  ASSERT_TRUE(finding(thin, kDeflection).place_m);
  EXPECT_LT((finding(thin, kDeflection).place_m->head<2>() - mesh::Vec2(0.012, 0.012)).norm(), 1e-3);
  ASSERT_EQ(thin.solution.triangle_share.size(), 12U);
  double most = 0.0;
  for (const double share : thin.solution.triangle_share) most = std::fmax(most, share);
  EXPECT_NEAR(most, thin.solution.share, 1e-12);  // lid and what is behind it
}

// A drilled hole in the middle of a lid, where it is pulled alike both ways: twice the stress of its inner side,
// between that of a clamped and a supported plate (Roark, square of side b: 0.138 and 0.287 q b^2/t^2 in the middle;
// from memory), less what half of the pressure on the sides presses through the lid, q H/(2 t). As wide as the cells
// hold it is cut out, and no factor counts.
TEST(MouldStrength, AnAirHoleWeakensTheLid) {
  constexpr double kPressed_Pa = 4e5, kWall_m = 1.5e-3;
  const Draped d = printed_box(0.024, 0.024, 0.010, kPressed_Pa);
  const MouldBuild build = printed(kWall_m);
  const MouldLoad load = mould_load(d.formed(), 0.5e-3);
  MouldCase c{d.formed(), build};
  const MouldSolution whole = solve_mould(c, load, 0.375e-3, 1.5e-3);
  EXPECT_EQ(whole.vent_tension_Pa, 0.0);
  c.vents = {{{0.012, 0.012, 0.010}, 0.0, 0.4e-3, 2e-3, 0.4e-3}};
  const MouldSolution drilled = solve_mould(c, load, 0.375e-3, 1.5e-3);
  const double plate_Pa = kPressed_Pa * 0.021 * 0.021 / (kWall_m * kWall_m);
  const double pressed_Pa = kPressed_Pa * 0.010 / (2.0 * kWall_m);
  EXPECT_GT(drilled.vent_tension_Pa, 2.0 * (0.138 * plate_Pa - pressed_Pa));
  EXPECT_LT(drilled.vent_tension_Pa, 2.0 * (0.287 * plate_Pa - pressed_Pa));
  EXPECT_LT(drilled.vent_place_m.z(), 0.0095);
  EXPECT_EQ(drilled.shift_m, whole.shift_m);
  EXPECT_GE(drilled.share, drilled.vent_tension_Pa / 95e6 * (1.0 - 1e-9));
  c.vents[0].diameter_m = c.vents[0].below_m = 3e-3;
  const MouldSolution bored = solve_mould(c, load, 0.375e-3, 1.5e-3);
  EXPECT_EQ(bored.vent_tension_Pa, 0.0);
  EXPECT_GT(bored.shift_m, whole.shift_m);
  EXPECT_NEAR((bored.load_N - whole.load_N).norm(), 0.0, 1e-9 * whole.load_N.norm());  // nothing is lost in the hole
}

// What holds without holes is in doubt with one.
TEST(MouldStrength, TheVerdictTurnsWithAnAirHole) {
  const Draped d = printed_box(0.024, 0.024, 0.010, 13e5);
  const MouldBuild build = printed(2e-3);
  MouldCase c{d.formed(), build};
  const Finding whole = finding(mould_strength(c), kStress);
  EXPECT_EQ(whole.verdict, Verdict::kPass) << whole.uncertainty;
  c.vents = {{{0.012, 0.012, 0.010}, 0.0, 0.4e-3, 2e-3, 2e-3}};
  const Finding drilled = finding(mould_strength(c), kStress);
  EXPECT_NE(drilled.verdict, Verdict::kPass) << drilled.why << drilled.uncertainty;
  EXPECT_NE(drilled.why.find("Kirsch"), std::string::npos) << drilled.why;
}

TEST(MouldStrength, DeflectionTurnsWithTheModulus) {
  const Draped d = printed_box(0.024, 0.024, 0.010, 4e5);
  const auto verdict = [&](double start_K) {
    MouldBuild build = printed(2e-3);
    build.start_K = start_K;
    return finding(mould_strength({d.formed(), build}), kDeflection).verdict;
  };
  EXPECT_EQ(verdict(273.15 + 23.0), Verdict::kPass);
  EXPECT_EQ(verdict(273.15 + 50.0), Verdict::kDoubt);
  EXPECT_EQ(verdict(273.15 + 60.0), Verdict::kFail);
}

TEST(MouldStrength, AWallItCannotResolveIsInDoubtUnlessItFailsByFar) {
  const MouldBuild thin = printed(1e-3);
  const Draped small = printed_box(0.020, 0.020, 0.010, 1e5), hard = printed_box(0.020, 0.020, 0.010, 30e5),
               large = printed_box(0.2, 0.2, 0.1, 4e5);
  const auto of = [&](const Draped& d) {
    MouldCase c{d.formed(), thin};
    c.most_cells = 10e3;  // with the default it would be resolved
    return mould_strength(c);
  };
  const MouldStrength little = of(small), much = of(hard);
  EXPECT_EQ(finding(little, kStress).verdict, Verdict::kDoubt);
  EXPECT_NE(finding(little, kStress).why.find("Not resolved"), std::string::npos) << finding(little, kStress).why;
  EXPECT_LT(finding(little, kStress).value, 0.5 * *finding(little, kStress).limit);
  EXPECT_EQ(finding(much, kStress).verdict, Verdict::kFail) << finding(much, kStress).why;
  EXPECT_NE(finding(much, kStress).why.find("Not resolved"), std::string::npos);
  const MouldStrength none = of(large);
  EXPECT_TRUE(std::isnan(finding(none, kStress).value));
  EXPECT_EQ(finding(none, kDeflection).verdict, Verdict::kDoubt);
  EXPECT_NE(finding(none, kDeflection).why.find("not resolved"), std::string::npos);
}

// Two sizes of cells that differ by a quarter at least: a filled shell of one cell is answered where half a cell
// through it would be beyond three times the budget (4 cm3 in 60 thousand cells: 0.41 mm).
TEST(MouldStrength, AThinFilledShellIsAnsweredWithTwoSizesNearEachOther) {
  const Draped d = printed_box(0.020, 0.020, 0.010, 4e5);
  const auto of = [&](double wall_m) {
    MouldBuild build = printed(wall_m);
    build.inside = mesh::Inside::kFilled;
    MouldCase c{d.formed(), build};
    c.most_cells = 20e3;
    return mould_strength(c);
  };
  const MouldStrength thin = of(0.55e-3);
  EXPECT_EQ(finding(thin, kDeflection).verdict, Verdict::kPass) << finding(thin, kDeflection).why;
  EXPECT_GT(finding(thin, kDeflection).value, 0.0);
  EXPECT_LT(thin.solution.cell_m, 0.55e-3 / 1.25);
  EXPECT_TRUE(std::isnan(finding(of(0.45e-3), kDeflection).value));
}

// A box 10 mm high: walls of 5 mm meet in the middle if it has a bottom, of 10 mm reach the platform if it has none.
TEST(MouldStrength, AShellMayLeaveNothingInside) {
  const mesh::Nearest surface(mesh::box({0, 0, 0}, {0.024, 0.020, 0.010}));
  int checked = 0;
  for (const auto& [wall_m, open, left] :
       {std::tuple{4e-3, true, true}, std::tuple{4e-3, false, true}, std::tuple{5.1e-3, true, true},
        std::tuple{5.1e-3, false, false}, std::tuple{10.1e-3, true, false}}) {
    MouldBuild build = printed(wall_m);
    build.base_open = open;
    EXPECT_EQ(has_inside(surface, build, std::nullopt), left) << wall_m << " " << open;
    build.inside = mesh::Inside::kFilled;
    EXPECT_EQ(has_inside(surface, build, std::nullopt), left) << wall_m << " " << open;
    build.inside = mesh::Inside::kSolid;
    EXPECT_FALSE(has_inside(surface, build, std::nullopt));
    ++checked;
  }
  EXPECT_EQ(checked, 5);
}

// Thin trials are refused where a cell through them is beyond the budget, and said to be.
TEST(MouldStrength, NoTrialIsBeyondTheBudgetOfCells) {
  const Draped d = printed_box(0.024, 0.024, 0.010, 1e5);
  const MouldBuild build = printed(4e-3);
  MouldCase c{d.formed(), build};
  c.most_cells = 3e3;  // area 1.5e-3 m2 (with a base 2.1e-3): a shell of 0.5 mm has 8 400 cells, one of 1 mm 2 100
  const MouldStrength s = mould_strength(c);
  EXPECT_FALSE(std::isnan(finding(s, kStress).value));
  EXPECT_NE(finding(s, kStress).advice.find("below 1.0 mm not tried"), std::string::npos) << finding(s, kStress).advice;
}

// What advice tries and cannot solve leaves the verdicts as they are. The last question of all is asked in the last
// trial, so an error raised there is one of the advice.
TEST(MouldStrength, AnErrorInAdviceDoesNotCostTheAnswer) {
  const Draped d = printed_box(0.024, 0.024, 0.010, 7e5);
  const MouldBuild build = printed(1e-3);
  MouldCase c{d.formed(), build};
  int asked = 0, fails_at = -1;
  c.stop = [&] {
    if (++asked == fails_at) throw Error({Fault::Kind::kSolution, "the cells", "no way down", "one", "another"});
    return false;
  };
  const MouldStrength whole = mould_strength(c);
  fails_at = asked, asked = 0;
  const MouldStrength s = mould_strength(c);
  EXPECT_NE(finding(s, kStress).advice.find("plaster not tried: no way down"), std::string::npos)
      << finding(s, kStress).advice;
  for (const int which : {kStress, kDeflection}) {
    EXPECT_EQ(finding(s, which).verdict, Verdict::kFail);
    EXPECT_EQ(finding(s, which).value, finding(whole, which).value);
  }
}

TEST(MouldStrength, StopsWhenAskedAndHasTheSameBitsOnAnyNumberOfThreads) {
  const Draped d = printed_box(0.024, 0.020, 0.010, 4e5);
  const MouldBuild build = printed(2e-3);
  int asked = 0;
  MouldCase c{d.formed(), build};
  c.stop = [&] { return ++asked > 3; };
  EXPECT_THROW(mould_strength(c), mould::Stopped);
  const MouldLoad load = mould_load(d.formed(), 0.5e-3);
  const auto solve = [&](int threads) {
    omp_set_num_threads(threads);
    const MouldSolution s = solve_mould({d.formed(), build}, load, 0.5e-3, 1.5e-3);
    omp_set_num_threads(1);
    return s;
  };
  const MouldSolution one = solve(1), two = solve(2);
  EXPECT_EQ(one.share, two.share);
  EXPECT_EQ(one.working_Pa, two.working_Pa);
  EXPECT_TRUE(one.triangle_shift_m == two.triangle_shift_m);
  EXPECT_GT(one.share, 0.0);
}

}  // namespace
}  // namespace pellicle::checks
