// What does it cost the membrane that its layers have temperatures and remember?
#include "tests/bench/heat_cost.h"

#include "mesh/check.h"
#include "mesh/sheet_mesher.h"
#include "solver/sheet/layer_memory.h"
#include "solver/sheet/membrane.h"
#include "tests/bench/clock.h"

#include <algorithm>
#include <cmath>
#include <optional>

namespace pellicle {
namespace {

constexpr double kRadius_m = 0.05, kThickness_m = 1e-3, kStart_K = 413.15, kModulus_Pa = 0.4e6;
/// Of a stage: 94 R/h steps of travel, 10,000 here (docs/performance.md, "Steps"), layers every 1/150 of it, strains
/// looked at every 25 steps.
constexpr int kLookSteps = 25, kLooks = 3;

sheet::HotLaw law(int modes) {
  sheet::HotLaw law{{0.1e6}, {}};
  sheet::Relaxation& r = law.relaxation;
  r.shift = {kStart_K, 10.0, 90.0, 360.0, sheet::smooth_activation_J_mol(kStart_K, 10.0, 90.0, 360.0)};
  const sheet::RelaxationMode all[] = {{0.1e6, 0.1}, {0.1e6, 1.0}, {0.1e6, 10.0}, {7e6, 1e-7}};
  r.modes.assign(all, all + modes);
  r.network_reference_K = kStart_K, r.network_entropic_share = 1.0;
  return law;
}

/// A dome that breathes by a thousandth from step to step.
class Dome {
 public:
  explicit Dome(double element_m)
      : state_(sheet::flat_sheet(
            mesh::mesh_sheet({mesh::Disc{2.0 * kRadius_m}, mesh::Vec2::Zero()}, {element_m, element_m, {}}),
            kThickness_m, 1200.0, 0.0)),
        heat_(sheet::hot_sheet(
            {0.2, 1800.0, 1200.0}, 12, state_.flat_m, kThickness_m,
            [](const mesh::Vec2& p) -> sheet::FaceTemperatures {
              return {kStart_K - 40.0 * p.norm() / kRadius_m, kStart_K};
            },
            300.0)) {
    for (mesh::Vec3& x : state_.x_m)
      x.z() = -0.5 * kRadius_m * (1.0 - x.head<2>().squaredNorm() / (kRadius_m * kRadius_m));
  }
  int elements() const { return state_.elements(); }

  /// Nanoseconds an element and step. `modes` < 0: the pass alone.
  double time(int modes) {
    state_.pull.clear();
    sheet::cut_into_blocks(state_);
    std::optional<sheet::LayerMemory> memory;
    const sheet::HotLaw hot = law(std::max(modes, 0));
    if (modes >= 0) {
      memory = sheet::rested_layers(hot, heat_, state_, true);
      memory->ahead_s = 1e-3;
      sheet::set_pull(hot, *memory, kModulus_Pa, state_);
    }
    double energy_J = 0.0;
    const double from = now_s();
    for (int look = 0; look < kLooks; ++look) {
      for (int step = 0; step < kLookSteps; ++step) {
        std::fill(state_.moved.begin(), state_.moved.end(), char{1});
        sheet::membrane_forces(sheet::NeoHookean{kModulus_Pa}, state_);
      }
      if (memory) energy_J += sheet::largest_strain_since(*memory, state_);
      if (memory && look + 1 == kLooks) {
        energy_J += sheet::remember(hot, heat_, 2e-3, state_, *memory).stored_J;
        sheet::set_pull(hot, *memory, kModulus_Pa, state_);
      }
    }
    const double ns = 1e9 * (now_s() - from) / (static_cast<double>(kLooks * kLookSteps) * elements());
    ensure(!memory || energy_J > 0.0, "the layers of the bench store energy");
    return ns;
  }

 private:
  sheet::SheetState state_;
  sheet::HeatState heat_;
};

}  // namespace

std::vector<HeatCost> time_heat(int repetitions) {
  use_threads(1);
  // About 100,000 elements: an equilateral triangle has sqrt(3)/4 of its edge squared.
  Dome dome(std::sqrt(3.14159 * kRadius_m * kRadius_m / 1e5 * 4.0 / std::sqrt(3.0)));
  std::vector<HeatCost> runs{{"the pass alone", 1.0, dome.elements(), {}},
                             {"layers without modes", 1.5, dome.elements(), {}},
                             {"layers of four modes", 2.5, dome.elements(), {}}};
  const int modes[] = {-1, 0, 4};
  for (int k = 0; k <= repetitions; ++k)  // the first warms up
    for (std::size_t r = 0; r < runs.size(); ++r) {
      const double ns = dome.time(modes[r]);
      if (k > 0) runs[r].ns_per_step.push_back(ns);
    }
  return runs;
}

}  // namespace pellicle
