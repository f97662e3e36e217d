// Do the vector kernels of every instruction set say what the scalar twin says, whatever blocks and threads there are?
#include "mesh/refine.h"
#include "solver/sheet/kernel/choose.h"
#include "solver/sheet/law_numbers.h"
#include "solver/sheet/membrane_scalar.h"
#include "tests/solver/sheet/sheet_samples.h"
#include "tests/solver/threads.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstring>
#include <limits>

namespace pellicle::sheet {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }
constexpr int kCells = 12;

/// The four laws, and Ogden with as many terms as it may have, exponents large and small and one that is nearly 2.
std::vector<NamedLaw> all_laws() {
  std::vector<NamedLaw> all = laws();
  all.push_back({"Ogden of six terms",
                 Ogden{6, {0.2e6, 0.05e6, 1e3, -0.01e6, -2e3, 0.03e6}, {1.3, 2.000001, 8.0, -2.0, -6.0, 0.5}}});
  return all;
}

/// Two rounds of refinement of a part of the sheet: new nodes at the end, triangles of many sizes.
SheetState refined_sheet() {
  SheetState s = square_sheet(kCells, 0.3);
  for (int round = 0; round < 2; ++round) {
    std::vector<char> wanted(s.triangles.size(), 0);
    for (std::size_t e = 0; e < wanted.size(); ++e) wanted[e] = s.flat_m[at(s.triangles[e][0])].norm() < 0.6 * kHalf_m;
    refine(s, mesh::refine(s.flat_m, s.triangles, wanted, 0.0));
  }
  s.mass_kg = lumped_mass_kg(s, kDensity_kg_m3);
  return s;
}

/// The states of sheet_samples.h on the refined sheet, and some for the near side of every switch.
std::vector<NamedState> refined_states() {
  const SheetState flat = refined_sheet();
  std::vector<NamedState> all = states(flat, 0.5 * kHalf_m / kCells);
  for (const double apart : {0.0, 1e-12, 1e-9, 1e-7, 1e-5, 1e-3, 0.009, 0.011}) {
    NamedState n{"stretches apart by " + std::to_string(apart), flat, 0.0};
    place(n.sheet, [&](const Vec2& p) { return Vec3{1.7 * (1.0 + apart) * p.x(), 1.7 * (1.0 - apart) * p.y(), 0.0}; });
    all.push_back(n);
  }
  NamedState collapsed{"collapsed here and there", flat, 0.0};
  place(collapsed.sheet, [](const Vec2& p) {  // to a line on the right, to a point in one corner
    const double x = 1.4 * std::min(p.x(), 0.3 * kHalf_m);
    return p.x() < -0.5 * kHalf_m && p.y() < 0.0 ? Vec3{-kHalf_m, 0.0, 0.0} : Vec3{x, 1.2 * p.y(), 0.0};
  });
  all.push_back(collapsed);
  for (NamedState& n : all) cut_into_blocks(n.sheet, 100);  // smaller than the solver would, so that there are seams
  return all;
}

/// One pass by the kernels asked for, on one thread.
void forces(const Kernels& kernels, const Polymer& law, SheetState& s) {
  const NodesView nodes{s.x_m.data()->data(), s.moved.data(), s.force_N.data()->data(), s.area_m2.data()->data(),
                        s.renewed.data()};
  s.blocks.make_room(1);
  for (int k = 0; k < s.blocks.count(); ++k) kernels.forces(numbers_of(law), nodes, s.blocks.view(k), s.blocks.room(0));
}

double largest(const std::vector<Vec3>& v) {
  double most = 0.0;
  for (const Vec3& x : v) most = std::max(most, x.norm());
  return most;
}
double largest_difference(const std::vector<Vec3>& a, const std::vector<Vec3>& b) {
  double most = 0.0;
  for (std::size_t i = 0; i < a.size(); ++i) most = std::max(most, (a[i] - b[i]).norm());
  return most;
}
bool same_bits(const std::vector<Vec3>& a, const std::vector<Vec3>& b) {
  return a.size() == b.size() && std::memcmp(a.data(), b.data(), a.size() * sizeof(Vec3)) == 0;
}

TEST(Kernels, StatesCoverEveryConditionAndManyBlocks) {
  Counts all;
  int collapsed = 0;
  for (const NamedState& n : refined_states()) {
    const Counts c = count_conditions(n.sheet);
    all.taut += c.taut, all.folded += c.folded, all.slack += c.slack;
    for (int e = 0; e < n.sheet.elements(); ++e) collapsed += element_stretch(n.sheet, e).l2 == 0.0;
    EXPECT_GE(n.sheet.blocks.count(), 2) << n.name;
    EXPECT_NE(n.sheet.elements() % kGroup, 0) << "a group that is not full";
  }
  EXPECT_GT(all.taut, 1000);
  EXPECT_GT(all.folded, 1000);
  EXPECT_GT(all.slack, 500);
  EXPECT_GT(collapsed, 50);
  EXPECT_GE(available_kernels().size(), 1U);
}

TEST(Kernels, ForcesAreThoseOfTheScalarTwin) {
  int checked = 0, expected = 0;
  for (const NamedLaw& n : all_laws())
    for (NamedState& state : refined_states()) {
      SheetState& s = state.sheet;
      SheetState twin = s;
      scalar::membrane_forces(n.law, twin);
      // Round-off of six parts, 1e-16 each, of forces up to the largest. The twin of Ogden loses 5e-15 of the modulus
      // where its series ends; nearly folded elements divide by x - y, a factor of ten to a hundred.
      const double unit_N = small_strain_shear_modulus_Pa(n.law) * kThickness_m * 2.0 * kHalf_m / kCells;
      const double allowed_N = 1e-12 * (largest(twin.force_N) + unit_N);
      for (const Kernels& k : available_kernels()) {
        SCOPED_TRACE(n.name + ", " + state.name + ", " + k.name);
        forces(k, n.law, s);
        EXPECT_LT(largest_difference(s.force_N, twin.force_N), allowed_N);
        EXPECT_LT(largest_difference(s.area_m2, twin.area_m2), 1e-14 * largest(twin.area_m2));
        for (const Vec3& f : s.force_N) ASSERT_TRUE(f.allFinite());
        ++checked;
      }
      expected += static_cast<int>(available_kernels().size());
    }
  EXPECT_EQ(checked, expected);
  EXPECT_GE(checked, 5 * 21);
}

TEST(Kernels, EnergyAndStiffnessAreThoseOfTheScalarTwin) {
  int checked = 0, elements = 0;
  for (const NamedLaw& n : all_laws())
    for (const NamedState& state : refined_states()) {
      const SheetState& s = state.sheet;
      const ElementsView view{s.x_m.data()->data(), s.triangles.data()->data(), s.rest.data()};
      for (const Kernels& k : available_kernels()) {
        SCOPED_TRACE(n.name + ", " + state.name + ", " + k.name);
        double energy_off = 0.0, stiffness_off = 0.0;
        for (int first = 0; first < s.elements(); first += kGroup) {
          const int count = std::min(kGroup, s.elements() - first);
          std::array<double, kGroup> energy_J{}, stiffness{};
          k.energies_J(numbers_of(n.law), view, first, count, energy_J.data());
          k.stiffnesses_Pa_per_m2(numbers_of(n.law), view, first, count, stiffness.data());
          for (int i = 0; i < count; ++i, ++elements) {
            const double twin_J = scalar::element_energy_J(n.law, s, first + i),
                         twin = scalar::element_stiffness_Pa_per_m2(n.law, s, first + i);
            const double unit_J = small_strain_shear_modulus_Pa(n.law) * s.rest[at(first + i)].volume_m3;
            energy_off = std::max(energy_off, std::fabs(energy_J[at(i)] - twin_J) / (std::fabs(twin_J) + unit_J));
            if (stiffness[at(i)] != twin)  // both may be zero or infinite
              stiffness_off = std::max(stiffness_off, std::fabs(stiffness[at(i)] - twin) / twin);
          }
        }
        EXPECT_LT(energy_off, 1e-13);  // round-off of about ten operations, with cancellation of l^alpha - 1
        // Splitting P in the axes of stretch divides by x - y, down to the switch at 1e-6: 1e-16 / 1e-6.
        EXPECT_LT(stiffness_off, 1e-9);
        ++checked;
      }
    }
  EXPECT_GT(elements, 100'000);
  EXPECT_EQ(checked, 5 * 21 * static_cast<int>(available_kernels().size()));
}

// Contraction is off and every operation is rounded for itself: it does not matter how many lanes a processor has.
TEST(Kernels, EveryInstructionSetGivesTheSameBits) {
  int checked = 0;
  const auto all = available_kernels();
  for (const NamedLaw& n : all_laws())
    for (NamedState& state : refined_states()) {
      SheetState& s = state.sheet;
      forces(all.front(), n.law, s);
      const std::vector<Vec3> force_N = s.force_N, area_m2 = s.area_m2;
      for (const Kernels& k : all) {
        forces(k, n.law, s);
        EXPECT_TRUE(same_bits(s.force_N, force_N) && same_bits(s.area_m2, area_m2))
            << n.name << ", " << state.name << ", " << k.name;
        ++checked;
      }
    }
  EXPECT_EQ(checked, 5 * 21 * static_cast<int>(all.size()));
}

TEST(Kernels, BlocksAndThreadsChangeNoBit) {
  int checked = 0;
  for (const NamedLaw& n : all_laws())
    for (NamedState& state : refined_states()) {
      SheetState& s = state.sheet;
      membrane_forces(n.law, s);
      const std::vector<Vec3> force_N = s.force_N, area_m2 = s.area_m2;
      for (const int block : {1, 7, 64, 1000})
        for (const int threads : {1, 2, 3}) {
          const Threads use(threads);
          cut_into_blocks(s, block);
          std::fill(s.force_N.begin(), s.force_N.end(), Vec3::Zero());
          membrane_forces(n.law, s);
          EXPECT_TRUE(same_bits(s.force_N, force_N) && same_bits(s.area_m2, area_m2))
              << n.name << ", " << state.name << ", blocks of " << block << ", " << threads << " threads";
          ++checked;
        }
    }
  EXPECT_EQ(checked, 5 * 21 * 4 * 3);
}

// What has not moved is passed over: nodes, groups and blocks. A node nobody moved and that nothing around has moved
// keeps its force, and all others have the bits of a full pass.
TEST(Kernels, PassingOverWhatStandsChangesNoBit) {
  int checked = 0, kept = 0;
  for (const NamedLaw& n : all_laws())
    for (const int block : {5, 40, 1000}) {
      SheetState s = refined_states().front().sheet;
      cut_into_blocks(s, block);
      Dice dice(5);
      for (const double share : {0.001, 0.02, 0.3, 1.0}) {
        membrane_forces(n.law, s);
        for (std::size_t i = 0; i < s.x_m.size(); ++i) {
          s.moved[i] = dice.in(0.0, 1.0) < share;
          if (s.moved[i]) s.x_m[i] += dice.cube(1e-2 * kHalf_m / kCells);
        }
        SheetState all = s;
        std::fill(all.moved.begin(), all.moved.end(), char{1});
        membrane_forces(n.law, all);
        // Marked, to see who is left alone.
        std::vector<char> touched(s.x_m.size(), 0);
        for (const Triangle& t : s.triangles)
          if (s.moved[at(t[0])] || s.moved[at(t[1])] || s.moved[at(t[2])])
            for (const int i : t) touched[at(i)] = 1;
        for (std::size_t i = 0; i < s.x_m.size(); ++i)
          if (touched[i]) s.force_N[i] = Vec3::Constant(std::numeric_limits<double>::quiet_NaN());
        for (std::size_t i = 0; i < s.x_m.size(); ++i) kept += !touched[i];
        membrane_forces(n.law, s);
        EXPECT_TRUE(same_bits(s.force_N, all.force_N) && same_bits(s.area_m2, all.area_m2))
            << n.name << ", blocks of " << block << ", share " << share;
        ++checked;
        std::fill(s.moved.begin(), s.moved.end(), char{1});
      }
    }
  EXPECT_EQ(checked, 5 * 3 * 4);
  EXPECT_GT(kept, 1000);
}

TEST(Kernels, PlaceThatIsNoneComesOutAsNotANumber) {
  int checked = 0;
  for (const NamedLaw& n : all_laws())
    for (const double none : {std::numeric_limits<double>::quiet_NaN(), std::numeric_limits<double>::infinity()})
      for (const Kernels& k : available_kernels()) {
        SCOPED_TRACE(n.name + ", " + k.name);
        SheetState s = refined_states().front().sheet;
        const int sick = s.nodes() / 2;
        s.x_m[at(sick)].y() = none;
        forces(k, n.law, s);
        EXPECT_FALSE(s.force_N[at(sick)].allFinite());
        int off = 0;
        const ElementsView view{s.x_m.data()->data(), s.triangles.data()->data(), s.rest.data()};
        for (int e = 0; e < s.elements(); ++e) {
          std::array<double, kGroup> stiffness{};
          k.stiffnesses_Pa_per_m2(numbers_of(n.law), view, e, 1, stiffness.data());
          const Triangle& t = s.triangles[at(e)];
          const bool has = std::find(t.begin(), t.end(), sick) != t.end();
          EXPECT_EQ(std::isnan(stiffness[0]), has);
          off += has;
        }
        EXPECT_GE(off, 3);
        ++checked;
      }
  EXPECT_EQ(checked, 5 * 2 * static_cast<int>(available_kernels().size()));
}

}  // namespace
}  // namespace pellicle::sheet
