// Do elements whose layers remember pull as the closed forms say, and do their children?
#include "solver/sheet/layer_memory.h"

#include "mesh/shapes.h"
#include "mesh/sheet_mesher.h"
#include "solver/sheet/heat_layers.h"
#include "solver/sheet/membrane.h"
#include "solver/sheet/relaxation_scalar.h"

#include <gtest/gtest.h>

#include <cmath>

namespace pellicle::sheet {
namespace {

constexpr double kReference_Pa = 0.4e6, kNetwork_Pa = 0.1e6, kMode_Pa = 0.3e6, kTime_s = 0.5, kThickness_m = 1e-3;

HotLaw law() {
  HotLaw law{{kNetwork_Pa}, {}};
  law.relaxation.shift = {400.0, 10.0, 90.0, 360.0, smooth_activation_J_mol(400.0, 10.0, 90.0, 360.0)};
  law.relaxation.modes = {{kMode_Pa, kTime_s}, {5e6, 100.0 / law.relaxation.shift.factor(360.0)}};
  law.relaxation.network_reference_K = 400.0;
  return law;
}
SheetState disc() {
  return flat_sheet(mesh::mesh_sheet({mesh::Disc{0.02}, mesh::Vec2::Zero()}, {3e-3, 3e-3, {}}), kThickness_m, 1200.0,
                    0.0);
}
HeatState at_K(const SheetState& s, double temperature_K) {
  return hot_sheet(
      {0.2, 1800.0, 1200.0}, 12, s.flat_m, kThickness_m,
      [&](const Vec2&) {
        return FaceTemperatures{temperature_K, temperature_K};
      },
      300.0);
}
void stretch(SheetState& s, double l) {
  for (std::size_t i = 0; i < s.x_m.size(); ++i) s.x_m[i] = {l * s.flat_m[i].x(), l * s.flat_m[i].y(), 0.0};
  s.moved.assign(s.x_m.size(), 1);
}
/// Stress of an evenly stretched sheet, of its forces' power: V0 2 sigma/l dl = -sum f.X dl.
double stress_Pa(SheetState& s, double l) {
  membrane_forces(NeoHookean{kReference_Pa}, s);
  double power = 0.0, volume_m3 = 0.0;
  for (std::size_t i = 0; i < s.x_m.size(); ++i) power -= s.force_N[i].head<2>().dot(s.flat_m[i]);
  for (const Rest& r : s.rest) volume_m3 += r.volume_m3;
  return 0.5 * l * power / volume_m3;
}

/// Start-up at constant Hencky rate, both ways alike: sigma = mu (l^2 - l^-4) + g (f(e) - f(-2 e)), f(r) = A + (1 - A)
/// exp((2 r - 1/tau) t), A = 1/(1 - 2 r tau) (docs/theory/relaxation.md, eq. 13). The glass forgets within a step. 0.1
/// % at 200 steps to l = 2: second order, 1e-4 there for the element's own law.
TEST(LayerMemory, StartsUpAsTheClosedFormThroughTheElements) {
  SheetState s = disc();
  const HotLaw hot = law();
  const HeatState heat = at_K(s, 400.0);
  LayerMemory memory = rested_layers(hot, heat, s, true);
  ASSERT_EQ(memory.count(), 4);
  set_pull(hot, memory, kReference_Pa, s);
  constexpr double kRate = 0.8, kEnd_s = 0.866;
  constexpr int kSteps = 200;
  double worst = 0.0;
  for (int k = 1; k <= kSteps; ++k) {
    const double t = kEnd_s * k / kSteps, l = std::exp(kRate * t);
    stretch(s, l);
    remember(hot, heat, kEnd_s / kSteps, s, memory);
    set_pull(hot, memory, kReference_Pa, s);
    const auto f = [&](double r) {
      const double A = 1.0 / (1.0 - 2.0 * r * kTime_s);
      return A + (1.0 - A) * std::exp((2.0 * r - 1.0 / kTime_s) * t);
    };
    const double expected = kNetwork_Pa * (l * l - std::pow(l, -4.0)) + kMode_Pa * (f(kRate) - f(-2.0 * kRate));
    if (k > 10) worst = std::fmax(worst, std::fabs(stress_Pa(s, l) / expected - 1.0));
  }
  EXPECT_LT(worst, 1e-3);
}

/// Half of the thickness is glass and half is not: the tension is the sum over layers, not that of the mean.
TEST(LayerMemory, TensionIsTheSumOverLayersNotThatOfTheMeanTemperature) {
  SheetState s = disc();
  const HotLaw hot = law();
  HeatState heat = hot_sheet(
      {0.2, 1800.0, 1200.0}, 12, s.flat_m, kThickness_m,
      [](const Vec2&) {
        return FaceTemperatures{340.0, 440.0};
      },
      300.0);
  double stress[2];
  for (const bool by_layer : {false, true}) {
    LayerMemory memory = rested_layers(hot, heat, s, by_layer);
    memory.ahead_s = 0.05;
    stretch(s, 1.1);
    set_pull(hot, memory, kReference_Pa, s);
    stress[by_layer] = stress_Pa(s, 1.1);
    // Each layer by itself, of what is left of its modes in that time: g (1 - e^-x)/x, at rest before.
    double modulus_Pa = kNetwork_Pa;
    for (int l = 0; l < memory.count(); ++l)
      for (const RelaxationMode& mode : hot.relaxation.modes) {
        const std::size_t first = static_cast<std::size_t>(l);
        const double x = memory.ahead_s / (mode.time_s * hot.relaxation.shift.factor(memory.layer_K[first]));
        modulus_Pa += memory.shares[first] * mode.modulus_Pa * -std::expm1(-x) / x;
      }
    EXPECT_NEAR(stress[by_layer] / (modulus_Pa * (1.21 - std::pow(1.1, -4.0))), 1.0, 1e-9);
  }
  EXPECT_GT(stress[1], 2.0 * stress[0]);
}

/// Children pull with what their parents did: forces on old nodes stay to round-off.
TEST(LayerMemory, ChildrenRememberWhatTheirParentDid) {
  SheetState s = disc();
  const HotLaw hot = law();
  const HeatState heat = at_K(s, 390.0);
  LayerMemory memory = rested_layers(hot, heat, s, true);
  set_pull(hot, memory, kReference_Pa, s);
  for (int k = 1; k <= 20; ++k) {
    stretch(s, 1.0 + 0.02 * k);
    for (Vec3& x : s.x_m) x.x() *= 1.0 + 0.01 * k;
    remember(hot, heat, 0.02, s, memory);
    set_pull(hot, memory, kReference_Pa, s);
  }
  const double before_J = strain_energy_J(NeoHookean{kReference_Pa}, s);
  const std::vector<Triangle> triangles = s.triangles;
  const mesh::Refined cut = mesh::refine(s.flat_m, s.triangles, std::vector<char>(s.triangles.size(), 1), 1e-3);
  ASSERT_GT(cut.ends.size(), 10U);
  refine(s, cut);
  refine(memory, triangles, s, cut);
  set_pull(hot, memory, kReference_Pa, s);
  EXPECT_NEAR(strain_energy_J(NeoHookean{kReference_Pa}, s) / before_J, 1.0, 1e-12);
}

/// By hand: 3 % along x since the last update, 1 % less along y. To the root of rounding, where both stretches are
/// alike.
TEST(LayerMemory, TellsTheLargestStrainSinceTheLastUpdate) {
  SheetState s = disc();
  const HotLaw hot = law();
  const HeatState heat = at_K(s, 400.0);
  LayerMemory memory = rested_layers(hot, heat, s, true);
  set_pull(hot, memory, kReference_Pa, s);
  stretch(s, 1.2);
  EXPECT_NEAR(largest_strain_since(memory, s), 0.2, 1e-7);
  remember(hot, heat, 0.02, s, memory);
  EXPECT_NEAR(largest_strain_since(memory, s), 0.0, 1e-7);
  for (Vec3& x : s.x_m) x.x() *= 1.03, x.y() *= 0.99;
  EXPECT_NEAR(largest_strain_since(memory, s), 0.03, 1e-7);
}

TEST(LayerMemory, TheGlassIsCappedAtTwentyTimesHotSheet) {
  const HotLaw hot = capped(law(), 400.0);
  double all_Pa = hot.network.shear_modulus_Pa;
  for (const RelaxationMode& mode : hot.relaxation.modes) all_Pa += mode.modulus_Pa;
  EXPECT_NEAR(all_Pa, std::fmin(20.0 * modulus_after_Pa(law(), 400.0, 1.0), 5.4e6), 1.0);
  EXPECT_LT(hot.relaxation.modes.back().modulus_Pa, 5e6);
}

}  // namespace
}  // namespace pellicle::sheet
