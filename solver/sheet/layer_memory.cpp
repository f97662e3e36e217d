// What does a sheet pull with whose layers differ in temperature, and remember other shapes?
#include "solver/sheet/layer_memory.h"

#include "solver/sheet/element_measure.h"
#include "solver/sheet/heat_layers.h"
#include "solver/sheet/kernel/choose.h"
#include "solver/sheet/ordered_sum.h"

#include <Eigen/LU>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace pellicle::sheet {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

int groups(const SheetState& s) { return (s.elements() + kGroup - 1) / kGroup; }

/// The layers of layer_cells, or one for the whole thickness.
std::vector<int> cells_of(const HeatState& heat, bool by_layer) {
  return by_layer ? layer_cells(heat.edges) : layer_cells(heat.edges, {});
}

/// Mean over the cells of each layer, N x L [K].
std::vector<double> node_layers_K(const HeatState& heat, const std::vector<int>& cells) {
  const int L = static_cast<int>(cells.size()) - 1, blocks = static_cast<int>(heat.thickness_m.size());
  std::vector<double> K(at(blocks * kHeatLanes * L));
#pragma omp parallel for schedule(static)
  for (int b = 0; b < blocks; ++b) {
    const HeatLanes* const cell = heat.sheet_K.data() + at(b) * at(heat.cells);
    for (int l = 0; l < L; ++l) {
      HeatLanes sum_K = HeatLanes::Zero();
      for (int c = cells[at(l)]; c < cells[at(l + 1)]; ++c)
        sum_K += (heat.edges[at(c + 1)] - heat.edges[at(c)]) * cell[c];
      sum_K /= heat.edges[at(cells[at(l + 1)])] - heat.edges[at(cells[at(l)])];
      for (int lane = 0; lane < kHeatLanes; ++lane) K[at((b * kHeatLanes + lane) * L + l)] = sum_K[lane];
    }
  }
  return K;
}
/// Mean over the three corners [K].
double corners_K(const std::vector<double>& node_K, const Triangle& t, int L, int l) {
  return (node_K[at(t[0] * L + l)] + node_K[at(t[1] * L + l)] + node_K[at(t[2] * L + l)]) / 3.0;
}

/// The material's metric: folds pulled out.
Metric material_of(const SheetState& s, int e) {
  const Edges k = material_edges(s.pulls_from(e), edges(s, e));
  return {k.g11, k.g12, k.g22};
}

/// Modulus of the network of one element, all layers together.
double network_Pa(const HotLaw& law, const LayerMemory& memory, int e) {
  double mean_K = 0.0;
  for (int l = 0; l < memory.count(); ++l) mean_K += memory.shares[at(l)] * memory.layer_K[at(e * memory.count() + l)];
  const Relaxation& r = law.relaxation;
  return law.network.shear_modulus_Pa * (1.0 + r.network_entropic_share * (mean_K / r.network_reference_K - 1.0));
}

/// Eight elements, the last of the sheet as often as fills them up.
int element_of(const SheetState& s, int group, int lane) { return std::min(group * kGroup + lane, s.elements() - 1); }

/// The modes as the kernels take them.
struct Modes {
  std::vector<double> modulus_Pa, time_s;
  explicit Modes(const Relaxation& r) {
    for (const RelaxationMode& mode : r.modes) modulus_Pa.push_back(mode.modulus_Pa), time_s.push_back(mode.time_s);
  }
  /// Kernels that only read do so through this too.
  ModesView view(const RelaxationState<double>& layer, int group) const {
    static_assert(sizeof(ModeLanes<double>) == 4 * kGroup * sizeof(double) &&
                  sizeof(LastLanes) == 4 * kGroup * sizeof(double));
    const int modes = static_cast<int>(modulus_Pa.size());
    const ModeLanes<double>* const lanes = layer.lanes.data() + at(group * modes);
    return {modes, modulus_Pa.data(), time_s.data(), const_cast<double*>(modes > 0 ? lanes->n11_per_m2 : nullptr),
            const_cast<double*>(layer.last[at(group)].a11_per_m2)};
  }
};

/// 1/a_T at the temperature of the last update, kGroup values.
void clocks(const Kernels& kernels, const TimeShift& shift, const LayerMemory& memory, const SheetState& s, int g,
            int l, double* clock) {
  double exponent[kGroup];
  for (int k = 0; k < kGroup; ++k) {
    const double kept_K = memory.layer_K[at(element_of(s, g, k) * memory.count() + l)];
    exponent[k] = -std::numbers::ln10 * shift.log10_factor(kept_K);
  }
  kernels.exp(exponent, clock);
}

/// What one element pulls with, by the sums of its modes: Q and q without the network come in.
Rest pull_of(double network_Pa, const ModeSum& sum, double reference_Pa, const Rest& rest) {
  const double q11 = network_Pa * rest.m11_per_m2 + sum.p11_Pa_m2, q12 = network_Pa * rest.m12_per_m2 + sum.p12_Pa_m2,
               q22 = network_Pa * rest.m22_per_m2 + sum.p22_Pa_m2, q33 = network_Pa + sum.p33_Pa;
  // mu' = cbrt(q det G0 det Q), M' = Q/mu'.
  const double stiff_Pa = std::cbrt(q33 * (q11 * q22 - q12 * q12) / rest.inverse_det_per_m4);
  const double m11 = q11 / stiff_Pa, m12 = q12 / stiff_Pa, m22 = q22 / stiff_Pa;
  return {m11, m12, m22, m11 * m22 - m12 * m12, rest.volume_m3 * stiff_Pa / reference_Pa};
}

}  // namespace

LayerMemory rested_layers(const HotLaw& law, const HeatState& heat, const SheetState& s, bool by_layer) {
  LayerMemory memory;
  const std::vector<int> cells = cells_of(heat, by_layer);
  for (std::size_t l = 0; l + 1 < cells.size(); ++l) {
    memory.shares.push_back(heat.edges[at(cells[l + 1])] - heat.edges[at(cells[l])]);
    memory.layers.push_back(rested_state<double>(s.rest, static_cast<int>(law.relaxation.modes.size())));
  }
  const int L = memory.count();
  const std::vector<double> node_K = node_layers_K(heat, cells);
  for (const Triangle& t : s.triangles)
    for (int l = 0; l < L; ++l) memory.layer_K.push_back(corners_K(node_K, t, L, l));
  return memory;
}

void set_pull(const HotLaw& law, const LayerMemory& memory, double reference_Pa, SheetState& s) {
  const Kernels& kernels = best_kernels();
  const Modes modes(law.relaxation);
  const bool flows = !law.relaxation.modes.empty();
  s.pull.resize(s.rest.size());
#pragma omp parallel for schedule(static)
  for (int g = 0; g < groups(s); ++g) {
    ModeSum sums[kGroup] = {};
    for (int l = 0; flows && l < memory.count(); ++l) {
      double ahead_s[kGroup], four[4][kGroup];
      clocks(kernels, law.relaxation.shift, memory, s, g, l, ahead_s);
      for (double& x : ahead_s) x *= memory.ahead_s;
      kernels.carry(modes.view(memory.layers[at(l)], g), ahead_s, four[0]);
      const double share = memory.shares[at(l)];
      for (int k = 0; k < kGroup; ++k) {
        sums[k].p11_Pa_m2 += share * four[0][k], sums[k].p12_Pa_m2 += share * four[1][k];
        sums[k].p22_Pa_m2 += share * four[2][k], sums[k].p33_Pa += share * four[3][k];
      }
    }
    for (int e = g * kGroup; e < std::min((g + 1) * kGroup, s.elements()); ++e)
      s.pull[at(e)] = pull_of(network_Pa(law, memory, e), sums[e - g * kGroup], reference_Pa, s.rest[at(e)]);
  }
  renew_pull(s);
}

LayerWork remember(const HotLaw& law, const HeatState& heat, double step_s, const SheetState& s, LayerMemory& memory) {
  const Kernels& kernels = best_kernels();
  const std::vector<int> cells = cells_of(heat, memory.count() > 1);
  const Relaxation& r = law.relaxation;
  const Modes modes(r);
  const bool flows = !r.modes.empty();
  const int L = memory.count();
  const std::vector<double> node_K = node_layers_K(heat, cells);
  OrderedSum<LayerWork> sum;
  return sum(groups(s), [&](int g) {
    LayerWork work;
    const int count = std::min(kGroup, s.elements() - g * kGroup);
    double metric[3][kGroup], inverse_det[kGroup], before_Pa[kGroup];
    for (int k = 0; k < kGroup; ++k) {
      const int e = element_of(s, g, k);
      const Metric now = material_of(s, e);
      metric[0][k] = now.g11_m2, metric[1][k] = now.g12_m2, metric[2][k] = now.g22_m2;
      inverse_det[k] = s.rest[at(e)].inverse_det_per_m4;
      before_Pa[k] = network_Pa(law, memory, e);
    }
    for (int l = 0; l < L; ++l) {
      // The material's clock: mean of both ends, as reduced_step_s. Without modes nobody reads it.
      double from[kGroup], reduced_s[kGroup] = {}, lost_Pa[kGroup], energy_Pa[kGroup];
      if (flows) clocks(kernels, r.shift, memory, s, g, l, from);
      for (int k = 0; k < count; ++k) {
        const int e = g * kGroup + k;
        memory.layer_K[at(e * L + l)] = corners_K(node_K, s.triangles[at(e)], L, l);
      }
      if (flows) {
        clocks(kernels, r.shift, memory, s, g, l, reduced_s);
        for (int k = 0; k < kGroup; ++k) reduced_s[k] = 0.5 * step_s * (from[k] + reduced_s[k]);
      }
      kernels.remember(modes.view(memory.layers[at(l)], g), metric[0], inverse_det, reduced_s, lost_Pa, energy_Pa);
      for (int k = 0; k < count; ++k) {
        const double volume_m3 = memory.shares[at(l)] * s.rest[at(g * kGroup + k)].volume_m3;
        work.viscous_J += volume_m3 * lost_Pa[k], work.stored_J += volume_m3 * energy_Pa[k];
      }
    }
    for (int k = 0; k < count; ++k) {
      // W = mu/2 (tr(M G) + 1/b - 3), of which the network loses what its modulus does.
      const Rest& rest = s.rest[at(g * kGroup + k)];
      const Metric now{metric[0][k], metric[1][k], metric[2][k]};
      const double b = now.det_m4() * rest.inverse_det_per_m4;
      const double invariant = rest.m11_per_m2 * now.g11_m2 + 2.0 * rest.m12_per_m2 * now.g12_m2 +
                               rest.m22_per_m2 * now.g22_m2 + 1.0 / b - 3.0;
      const double after_Pa = network_Pa(law, memory, g * kGroup + k);
      work.thermal_J += 0.5 * rest.volume_m3 * (before_Pa[k] - after_Pa) * invariant;
      work.stored_J += 0.5 * rest.volume_m3 * after_Pa * invariant;
    }
    return work;
  });
}

double largest_strain_since(const LayerMemory& memory, const SheetState& s) {
  double most = 0.0;
#pragma omp parallel for schedule(static) reduction(max : most)
  for (int e = 0; e < s.elements(); ++e) {
    // Squared stretches since then: eigenvalues of the last inverse metric times the metric now.
    const LastLanes& last = memory.layers.front().last[group_of(e)];
    const std::size_t k = lane_of(e);
    const Metric now = material_of(s, e);
    const double half = 0.5 * (last.a11_per_m2[k] * now.g11_m2 + 2.0 * last.a12_per_m2[k] * now.g12_m2 +
                               last.a22_per_m2[k] * now.g22_m2);
    const double det =
        (last.a11_per_m2[k] * last.a22_per_m2[k] - last.a12_per_m2[k] * last.a12_per_m2[k]) * now.det_m4();
    const double larger = half + std::sqrt(std::fmax(0.0, half * half - det));
    most = std::fmax(most, std::fmax(std::sqrt(larger) - 1.0, 1.0 - std::sqrt(det / larger)));
  }
  return most;
}

void refine(LayerMemory& memory, const std::vector<Triangle>& before, const SheetState& after,
            const mesh::Refined& refined) {
  const auto flat_edges = [&](const Triangle& t) {
    const Vec2& o = after.flat_m[at(t[0])];
    Eigen::Matrix2d d;
    d << after.flat_m[at(t[1])] - o, after.flat_m[at(t[2])] - o;
    return d;
  };
  const int L = memory.count();
  std::vector<double> kept_K;
  for (const int parent : refined.parent)
    for (int l = 0; l < L; ++l) kept_K.push_back(memory.layer_K[at(parent * L + l)]);
  memory.layer_K = std::move(kept_K);
  for (RelaxationState<double>& layer : memory.layers) {
    RelaxationState<double> children = rested_state<double>(after.rest, layer.modes);
    for (int e = 0; e < after.elements(); ++e) {
      const int parent = refined.parent[at(e)];
      EdgeChange change{1.0, 0.0, 0.0, 1.0};
      if (refined.triangles[at(e)] != before[at(parent)]) {
        // D' = D T^T, edges as columns.
        const Eigen::Matrix2d t = flat_edges(before[at(parent)]).inverse() * flat_edges(refined.triangles[at(e)]);
        change = {t(0, 0), t(1, 0), t(0, 1), t(1, 1)};
      }
      inherit(layer, parent, change, children, e);
    }
    layer = std::move(children);
  }
}

}  // namespace pellicle::sheet
