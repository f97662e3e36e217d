// Are the membrane forces the slopes of its energy, in every condition, and does it pull as the closed forms say?
#include "solver/sheet/membrane.h"

#include "tests/solver/sheet/sheet_samples.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstring>
#include <string>
#include <vector>

namespace pellicle::sheet {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }
constexpr int kCells = 4;
constexpr int kStates = 12;
constexpr int kLaws = 4;

double largest(const std::vector<Vec3>& v) {
  double most = 0.0;
  for (const Vec3& x : v) most = std::max(most, x.norm());
  return most;
}

/// What a force is measured against: modulus x sheet thickness x element size.
double force_unit_N(const Polymer& law) {
  return small_strain_shear_modulus_Pa(law) * kThickness_m * 2.0 * kHalf_m / kCells;
}

TEST(Membrane, StatesCoverEveryCondition) {
  Counts all;
  int mixed = 0;
  const auto sheets = states(kCells);
  for (const NamedState& n : sheets) {
    const Counts c = count_conditions(n.sheet);
    all.taut += c.taut;
    all.folded += c.folded;
    all.slack += c.slack;
    mixed += c.taut > 0 && c.folded > 0 && c.slack > 0;
  }
  EXPECT_EQ(sheets.size(), at(kStates));
  EXPECT_GT(all.taut, 100);
  EXPECT_GT(all.folded, 50);
  EXPECT_GT(all.slack, 30);
  EXPECT_GE(mixed, 1);
}

TEST(Membrane, ForcesAreTheSlopesOfTheEnergy) {
  int checked = 0;
  for (const NamedLaw& n : laws())
    for (NamedState& state : states(kCells)) {
      SheetState& s = state.sheet;
      membrane_forces(n.law, s);
      const std::vector<Vec3> force_N = s.force_N;
      // Central difference over 2e-5 of a cell: error ~ 1e-10 of third derivatives, round-off of the summed energy
      // 1e-15 / 1e-5 of it; both relative to forces of the size of the modulus or larger.
      const double h = 1e-5 * 2.0 * kHalf_m / kCells;
      const double energy_force_N = strain_energy_J(n.law, s) / (2.0 * kHalf_m);
      const double allowed_N = 1e-7 * (largest(force_N) + force_unit_N(n.law)) + 1e-9 * energy_force_N;
      double worst_N = 0.0;
      for (std::size_t i = 0; i < s.x_m.size(); ++i)
        for (int c = 0; c < 3; ++c) {
          const double before = s.x_m[i][c];
          s.x_m[i][c] = before + h;
          const double up_J = strain_energy_J(n.law, s);
          s.x_m[i][c] = before - h;
          const double down_J = strain_energy_J(n.law, s);
          s.x_m[i][c] = before;
          worst_N = std::max(worst_N, std::fabs(force_N[i][c] + (up_J - down_J) / (2.0 * h)));
          ++checked;
        }
      EXPECT_LT(worst_N, allowed_N) << n.name << ", " << state.name;
      if (state.name != "slack") {
        EXPECT_GT(largest(force_N), 0.01 * force_unit_N(n.law)) << state.name;
      }
    }
  EXPECT_EQ(checked, kLaws * kStates * 3 * (kCells + 1) * (kCells + 1));
}

TEST(Membrane, ForcesAndTheirMomentsSumToZero) {
  int checked = 0;
  for (const NamedLaw& n : laws())
    for (NamedState& state : states(kCells)) {
      SheetState& s = state.sheet;
      membrane_forces(n.law, s);
      Vec3 sum = Vec3::Zero(), moment = Vec3::Zero();
      double reach_m = 0.0;
      for (std::size_t i = 0; i < s.x_m.size(); ++i) {
        sum += s.force_N[i];
        moment += s.x_m[i].cross(s.force_N[i]);
        reach_m = std::max(reach_m, s.x_m[i].norm());
      }
      // Round-off of 25 terms, each itself a sum of about six: 1e-16 each, left two orders.
      const double allowed_N = 1e-13 * (25.0 * largest(s.force_N) + force_unit_N(n.law));
      EXPECT_LT(sum.norm(), allowed_N) << n.name << ", " << state.name;
      EXPECT_LT(moment.norm(), allowed_N * reach_m) << n.name << ", " << state.name;
      ++checked;
    }
  EXPECT_EQ(checked, kLaws * kStates);
}

TEST(Membrane, TurningAndMovingItMakesNoForceAndTurnsThoseThereAre) {
  const Eigen::Matrix3d turn = Eigen::AngleAxisd(1.1, Vec3{0.3, -0.5, 0.8}.normalized()).toRotationMatrix();
  const Vec3 shift{0.02, -0.01, 0.03};
  int checked = 0;
  for (const NamedLaw& n : laws()) {
    SheetState flat = square_sheet(kCells, 0.3);
    for (Vec3& x : flat.x_m) x = turn * x + shift;
    membrane_forces(n.law, flat);
    // Equal stretches are the root of a^2/4 - b, which is zero but for round-off: known to sqrt(1e-16) = 1e-8 each.
    EXPECT_LT(largest(flat.force_N), 1e-7 * force_unit_N(n.law)) << n.name;
    for (NamedState& state : states(kCells)) {
      SheetState& s = state.sheet;
      membrane_forces(n.law, s);
      const std::vector<Vec3> before = s.force_N;
      const double energy_J = strain_energy_J(n.law, s);
      for (Vec3& x : s.x_m) x = turn * x + shift;
      membrane_forces(n.law, s);
      double worst_N = 0.0;
      for (std::size_t i = 0; i < before.size(); ++i)
        worst_N = std::max(worst_N, (s.force_N[i] - turn * before[i]).norm());
      // Round-off of the places, 1e-15 of an edge, through moduli up to tens of times the small-strain one; in nearly
      // folded elements 1/(x - y) adds a factor ten.
      EXPECT_LT(worst_N, 1e-11 * (largest(before) + force_unit_N(n.law))) << n.name << ", " << state.name;
      EXPECT_NEAR(strain_energy_J(n.law, s), energy_J, 1e-12 * energy_J) << n.name << ", " << state.name;
      ++checked;
    }
  }
  EXPECT_EQ(checked, kLaws * kStates);
}

/// Sum of the membrane force on the nodes of the side x = +half (or y), flat frame.
Vec3 side_force_N(const SheetState& s, int axis) {
  Vec3 sum = Vec3::Zero();
  int found = 0;
  for (std::size_t i = 0; i < s.x_m.size(); ++i)
    if (s.flat_m[i][axis] > kHalf_m * (1.0 - 1e-9)) sum += s.force_N[i], ++found;
  EXPECT_EQ(found, kCells + 1);
  return sum;
}

double largest_inside_N(const SheetState& s) {
  double most = 0.0;
  int found = 0;
  for (std::size_t i = 0; i < s.x_m.size(); ++i)
    if (!s.on_rim[i]) most = std::max(most, s.force_N[i].norm()), ++found;
  EXPECT_EQ(found, (kCells - 1) * (kCells - 1));
  return most;
}

void stretch_flat(SheetState& s, double l1, double l2) {
  place(s, [&](const Vec2& p) { return Vec3{l1 * p.x(), l2 * p.y(), 0.0}; });
}

// Patch test: an even stretch is an equilibrium on any mesh, and the clamp holds nominal stress x h0 x width.
// Neo-Hookean equibiaxial: mu (l - l^-5), any text on rubber elasticity; the other laws and unequal stretches by their
// principal slopes, which polymer_test ties to their closed forms.
TEST(Membrane, EvenlyStretchedPatchIsInEquilibriumAndPullsAsTheClosedFormSays) {
  int checked = 0;
  for (const NamedLaw& n : laws())
    for (const auto& pair : {std::array{1.5, 1.5}, {3.0, 3.0}, {2.0, 1.2}, {1.2, 1.0}}) {
      const double l1 = pair[0], l2 = pair[1];
      SheetState s = square_sheet(kCells, 0.3);
      stretch_flat(s, l1, l2);
      membrane_forces(n.law, s);
      const PrincipalSlopes w = std::visit([&](const auto& law) { return law.principal(l1, l2); }, n.law);
      const double section_m2 = kThickness_m * 2.0 * kHalf_m;
      // Round-off of the sums, more where stretches are equal: a^2/4 - b under a root there.
      const double allowed_N = 1e-12 * section_m2 * (std::fabs(w.w1_Pa) + small_strain_shear_modulus_Pa(n.law));
      EXPECT_LT(largest_inside_N(s), allowed_N) << n.name;
      EXPECT_NEAR(side_force_N(s, 0).x(), -w.w1_Pa * section_m2, allowed_N) << n.name;
      EXPECT_NEAR(side_force_N(s, 1).y(), -w.w2_Pa * section_m2, allowed_N) << n.name;
      if (n.name == "neo-Hookean" && l1 == l2) {
        EXPECT_NEAR(side_force_N(s, 0).x(), -0.30e6 * (l1 - std::pow(l1, -5)) * section_m2, allowed_N);
      }
      ++checked;
    }
  EXPECT_EQ(checked, kLaws * 4);
}

// A strip pulled one way and pushed together the other way folds: it pulls as a free strip, mu (l - 1/l^2), carries
// nothing across, and the material keeps the free width l^-1/2.
TEST(Membrane, FoldedStripPullsAsAFreeOneAndNothingAcross) {
  int checked = 0;
  for (const NamedLaw& n : laws())
    for (const double l1 : {1.2, 1.7, 3.0})
      for (const double narrow : {0.95, 0.6, 0.1}) {
        const double natural = 1.0 / std::sqrt(l1), l2 = narrow * natural;
        SheetState s = square_sheet(kCells, 0.3);
        stretch_flat(s, l1, l2);
        membrane_forces(n.law, s);
        const double section_m2 = kThickness_m * 2.0 * kHalf_m;
        const double free_Pa = std::visit([&](const auto& law) { return law.principal(l1, natural).w1_Pa; }, n.law);
        const double allowed_N = 1e-12 * section_m2 * (free_Pa + small_strain_shear_modulus_Pa(n.law));  // round-off
        EXPECT_NEAR(side_force_N(s, 0).x(), -free_Pa * section_m2, allowed_N) << n.name;
        EXPECT_NEAR(side_force_N(s, 1).y(), 0.0, allowed_N) << n.name;
        EXPECT_LT(largest_inside_N(s), allowed_N) << n.name;
        if (n.name == "neo-Hookean") {
          EXPECT_NEAR(side_force_N(s, 0).x(), -0.30e6 * (l1 - 1.0 / (l1 * l1)) * section_m2, allowed_N);
        }
        for (int e = 0; e < s.elements(); ++e) {
          const ElementStretch x = element_stretch(s, e);
          EXPECT_NEAR(x.l1, l1, 1e-12);  // round-off of the metric, here and below
          EXPECT_NEAR(x.l2, l2, 1e-12);
          EXPECT_NEAR(x.wrinkle, 1.0 - narrow, 1e-12);
          EXPECT_NEAR(x.thickness(kThickness_m), kThickness_m / std::sqrt(l1), 1e-12 * kThickness_m);
          const auto c = material_metric(s, e);
          EXPECT_NEAR(c[0], l1 * l1, 1e-11 * l1 * l1);
          EXPECT_NEAR(c[1], 0.0, 1e-11 * l1 * l1);
          EXPECT_NEAR(c[2], 1.0 / l1, 1e-11 * l1 * l1);
          ++checked;
        }
      }
  EXPECT_EQ(checked, kLaws * 3 * 3 * 2 * kCells * kCells);
}

TEST(Membrane, SlackSheetPullsNothingAndKeepsItsBoughtThickness) {
  SheetState s = square_sheet(kCells, 0.3);
  stretch_flat(s, 0.9, 0.7);
  int checked = 0;
  for (const NamedLaw& n : laws()) {
    membrane_forces(n.law, s);
    EXPECT_EQ(largest(s.force_N), 0.0) << n.name;
    EXPECT_EQ(strain_energy_J(n.law, s), 0.0) << n.name;
    EXPECT_EQ(highest_frequency(n.law, s, kDensity_kg_m3, 0.0).element_per_s, 0.0) << n.name;
    ++checked;
  }
  EXPECT_EQ(checked, kLaws);
  for (int e = 0; e < s.elements(); ++e) {
    const ElementStretch x = element_stretch(s, e);
    EXPECT_EQ(x.thickness(kThickness_m), kThickness_m);
    EXPECT_NEAR(x.wrinkle, 1.0 - 0.9 * 0.7, 1e-12);  // round-off; the share of the area that is excess
  }
}

/// One triangle of 2 mm, its nodes free.
SheetState one_triangle() {
  mesh::SheetMesh m;
  m.flat_m = {{0.0, 0.0}, {2e-3, 0.0}, {0.6e-3, 1.7e-3}};
  m.triangles = {{0, 1, 2}};
  m.on_rim = {0, 0, 0};
  m.min_quality = m.mean_quality = 0.0;
  return flat_sheet(m, kThickness_m, kDensity_kg_m3, 0.0);
}

TEST(Membrane, CollapsedTriangleHasFiniteForces) {
  struct Collapse {
    std::string name;
    std::array<Vec3, 3> x_m;
    bool pulls;
  };
  const std::vector<Collapse> collapses{
      {"on a line, long", {Vec3{0, 0, 0}, {5e-3, 0, 0}, {2e-3, 0, 0}}, true},
      {"on a slanting line", {Vec3{0, 0, 0}, {3e-3, 4e-3, 1e-3}, {1.5e-3, 2e-3, 0.5e-3}}, true},
      {"on a line, short", {Vec3{0, 0, 0}, {0.5e-3, 0, 0}, {0.2e-3, 0, 0}}, false},
      {"two nodes in one place", {Vec3{1e-3, 0, 0}, {1e-3, 0, 0}, {6e-3, 1e-3, 0}}, true},
      {"all nodes in one place", {Vec3{1e-3, 2e-3, 0}, {1e-3, 2e-3, 0}, {1e-3, 2e-3, 0}}, false},
      {"turned over", {Vec3{0, 0, 0}, {0, 4e-3, 0}, {3.4e-3, 1.2e-3, 0}}, true}};
  int checked = 0;
  for (const NamedLaw& n : laws())
    for (const Collapse& c : collapses) {
      SCOPED_TRACE(n.name + ", " + c.name);
      SheetState s = one_triangle();
      s.x_m.assign(c.x_m.begin(), c.x_m.end());
      membrane_forces(n.law, s);
      for (const Vec3& f : s.force_N) ASSERT_TRUE(f.allFinite());
      EXPECT_EQ(largest(s.force_N) > 0.0, c.pulls);
      EXPECT_TRUE(std::isfinite(strain_energy_J(n.law, s)));
      EXPECT_TRUE(std::isfinite(highest_frequency(n.law, s, kDensity_kg_m3, 0.0).element_per_s));
      const ElementStretch x = element_stretch(s, 0);
      EXPECT_TRUE(std::isfinite(x.thickness(kThickness_m)) && std::isfinite(x.wrinkle));
      for (const double g : material_metric(s, 0)) EXPECT_TRUE(std::isfinite(g));
      ++checked;
    }
  EXPECT_EQ(checked, kLaws * static_cast<int>(collapses.size()));
}

TEST(Membrane, SweptVolumeOfAPyramidIsAThirdOfBaseTimesHeight) {
  mesh::SheetMesh m;  // a fan of six around an apex that is not in the middle
  m.flat_m.emplace_back(1e-3, -2e-3);
  m.on_rim.push_back(0);
  double base_m2 = 0.0;
  for (int k = 0; k < 6; ++k) {
    const double angle = 0.3 + k * M_PI / 3.0;
    m.flat_m.emplace_back(0.01 * std::cos(angle), 0.01 * std::sin(angle));
    m.on_rim.push_back(1);
    m.triangles.push_back({0, 1 + k, 1 + (k + 1) % 6});
    base_m2 += 0.5 * 0.01 * 0.01 * std::sin(M_PI / 3.0);
  }
  m.min_quality = m.mean_quality = 0.0;
  constexpr double kClamp_m = 0.05, kDepth_m = 0.007;
  SheetState s = flat_sheet(m, kThickness_m, kDensity_kg_m3, kClamp_m);
  const double unit_m3 = base_m2 * kDepth_m;
  EXPECT_NEAR(swept_volume_m3(s, kClamp_m), 0.0, 1e-14 * unit_m3);  // round-off, as below
  s.x_m[0] = {3e-3, 2e-3, kClamp_m - kDepth_m};
  EXPECT_NEAR(swept_volume_m3(s, kClamp_m), unit_m3 / 3.0, 1e-14 * unit_m3);
  s.x_m[0].z() = kClamp_m + kDepth_m;
  EXPECT_NEAR(swept_volume_m3(s, kClamp_m), -unit_m3 / 3.0, 1e-14 * unit_m3);
}

// Under z = -d (1 - u^2)(1 - v^2) lie d (4/3)^2 half^2; linear triangles miss it by the square of their size.
TEST(Membrane, SweptVolumeOfABubbleConverges) {
  constexpr double kDepth_m = 0.008;
  const double exact_m3 = kDepth_m * kHalf_m * kHalf_m * 16.0 / 9.0;
  std::vector<double> off;
  for (const int cells : {8, 16, 32}) {
    SheetState s = square_sheet(cells, 0.0);
    place(s, [](const Vec2& p) {
      const double u = p.x() / kHalf_m, v = p.y() / kHalf_m;
      return Vec3{p.x(), p.y(), -kDepth_m * (1.0 - u * u) * (1.0 - v * v)};
    });
    off.push_back(std::fabs(swept_volume_m3(s, 0.0) / exact_m3 - 1.0));
  }
  ASSERT_EQ(off.size(), 3U);
  EXPECT_LT(off[2], 0.004);  // (2/32)^2, the square of the element over the half side
  for (std::size_t k = 0; k + 1 < off.size(); ++k) EXPECT_NEAR(off[k] / off[k + 1], 4.0, 0.4);  // second order, 10 %
}

TEST(Membrane, SweptVolumeGrowsByMinusTheAreaOfItsNodes) {
  int checked = 0;
  for (NamedState& state : states(kCells)) {
    SheetState& s = state.sheet;
    membrane_forces(NeoHookean{0.3e6}, s);
    const std::vector<Vec3> area_m2 = s.area_m2;
    const double unit_m2 = std::max(largest(area_m2), kHalf_m * kHalf_m / (kCells * kCells));
    for (std::size_t i = 0; i < s.x_m.size(); ++i) {
      if (s.on_rim[i]) continue;  // the rim also moves the cone over the clamp plane
      for (int c = 0; c < 3; ++c) {
        const double before = s.x_m[i][c], h = 1e-4 * kHalf_m;
        s.x_m[i][c] = before + h;
        const double up_m3 = swept_volume_m3(s, 0.0);
        s.x_m[i][c] = before - h;
        const double down_m3 = swept_volume_m3(s, 0.0);
        s.x_m[i][c] = before;
        // V is linear in one coordinate: round-off only, 1e-16 V / step.
        EXPECT_NEAR(area_m2[i][c], -(up_m3 - down_m3) / (2.0 * h), 1e-9 * unit_m2) << state.name;
        ++checked;
      }
    }
  }
  EXPECT_EQ(checked, kStates * 3 * (kCells - 1) * (kCells - 1));
}

bool same_bits(const std::vector<Vec3>& a, const std::vector<Vec3>& b) {
  return a.size() == b.size() && std::memcmp(a.data(), b.data(), a.size() * sizeof(Vec3)) == 0;
}

TEST(Membrane, SkippingWhatHasNotMovedChangesNoBit) {
  int checked = 0;
  for (const NamedLaw& n : laws())
    for (NamedState& state : states(kCells)) {
      SheetState& s = state.sheet;
      membrane_forces(n.law, s);
      const std::vector<Vec3> first = s.force_N;
      std::fill(s.moved.begin(), s.moved.end(), 0);
      membrane_forces(n.law, s);
      EXPECT_TRUE(same_bits(s.force_N, first)) << "nothing moved: " << state.name;
      const std::size_t centre = (kCells + 1) * kCells / 2 + kCells / 2;
      for (const std::size_t i : {centre, centre + 1}) {
        s.x_m[i] += Vec3{1e-4, -2e-4, 3e-4};
        s.moved[i] = 1;
      }
      membrane_forces(n.law, s);
      SheetState all = s;
      std::fill(all.moved.begin(), all.moved.end(), 1);
      membrane_forces(n.law, all);
      EXPECT_TRUE(same_bits(s.force_N, all.force_N) && same_bits(s.area_m2, all.area_m2)) << state.name;
      if (state.name != "slack") {
        EXPECT_FALSE(same_bits(s.force_N, first)) << "two nodes moved: " << state.name;
      }
      ++checked;
    }
  EXPECT_EQ(checked, kLaws * kStates);
}

// The flags are used: a node that moved without saying so keeps its old force.
TEST(Membrane, SkippedElementsKeepTheirForces) {
  SheetState s = square_sheet(kCells, 0.3);
  stretch_flat(s, 1.5, 1.4);
  membrane_forces(NeoHookean{0.3e6}, s);
  const std::vector<Vec3> before = s.force_N;
  std::fill(s.moved.begin(), s.moved.end(), 0);
  for (Vec3& x : s.x_m) x *= 1.1;
  membrane_forces(NeoHookean{0.3e6}, s);
  EXPECT_TRUE(same_bits(s.force_N, before));
}

}  // namespace
}  // namespace pellicle::sheet
