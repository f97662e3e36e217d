// What does a sheet pull with whose layers differ in temperature, and remember other shapes?
#include "solver/sheet/layer_memory.h"

#include "solver/sheet/element_measure.h"
#include "solver/sheet/heat_layers.h"
#include "solver/sheet/ordered_sum.h"

#include <Eigen/LU>

#include <algorithm>
#include <cmath>

namespace pellicle::sheet {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// The layers of layer_cells, or one for the whole thickness.
std::vector<int> cells_of(const HeatState& heat, bool by_layer) {
  return by_layer ? layer_cells(heat.edges) : layer_cells(heat.edges, {});
}

/// Mean over the three corners and the cells of a layer [K].
double layer_K(const HeatState& heat, const Triangle& t, int first, int end) {
  double sum_K = 0.0;
  for (const int node : t) {
    const HeatLanes* const cells = heat.sheet_K.data() + at(node / kHeatLanes) * at(heat.cells);
    for (int c = first; c < end; ++c)
      sum_K += (heat.edges[at(c + 1)] - heat.edges[at(c)]) * cells[c][node % kHeatLanes];
  }
  return sum_K / (3.0 * (heat.edges[at(end)] - heat.edges[at(first)]));
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

Rest pull_of(const HotLaw& law, const LayerMemory& memory, double reference_Pa, const Rest& rest, int e) {
  const double mu = network_Pa(law, memory, e);
  double q11 = mu * rest.m11_per_m2, q12 = mu * rest.m12_per_m2, q22 = mu * rest.m22_per_m2, q33 = mu;
  for (int l = 0; l < memory.count(); ++l) {
    const double ahead_s = memory.ahead_s / law.relaxation.shift.factor(memory.layer_K[at(e * memory.count() + l)]);
    const ModeSum sum = carried_sum(law.relaxation, memory.layers[at(l)], e, ahead_s);
    const double share = memory.shares[at(l)];
    q11 += share * sum.p11_Pa_m2, q12 += share * sum.p12_Pa_m2, q22 += share * sum.p22_Pa_m2, q33 += share * sum.p33_Pa;
  }
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
  for (const Triangle& t : s.triangles)
    for (std::size_t l = 0; l + 1 < cells.size(); ++l)
      memory.layer_K.push_back(layer_K(heat, t, cells[l], cells[l + 1]));
  return memory;
}

void set_pull(const HotLaw& law, const LayerMemory& memory, double reference_Pa, SheetState& s) {
  s.pull.resize(s.rest.size());
#pragma omp parallel for schedule(static)
  for (int e = 0; e < s.elements(); ++e) s.pull[at(e)] = pull_of(law, memory, reference_Pa, s.rest[at(e)], e);
  renew_pull(s);
}

LayerWork remember(const HotLaw& law, const HeatState& heat, double step_s, const SheetState& s, LayerMemory& memory) {
  const std::vector<int> cells = cells_of(heat, memory.count() > 1);
  const Relaxation& r = law.relaxation;
  OrderedSum<LayerWork> sum;
  const int groups = (s.elements() + kGroup - 1) / kGroup;
  return sum(groups, [&](int g) {
    LayerWork work;
    for (int e = g * kGroup; e < std::min((g + 1) * kGroup, s.elements()); ++e) {
      const Rest& rest = s.rest[at(e)];
      const Metric now = material_of(s, e);
      const double before_Pa = network_Pa(law, memory, e);
      for (int l = 0; l < memory.count(); ++l) {
        double& kept_K = memory.layer_K[at(e * memory.count() + l)];
        const double now_K = layer_K(heat, s.triangles[at(e)], cells[at(l)], cells[at(l + 1)]);
        const double volume_m3 = memory.shares[at(l)] * rest.volume_m3;
        work.viscous_J +=
            volume_m3 * remember(r, memory.layers[at(l)], e, rest, now, reduced_step_s(r.shift, kept_K, now_K, step_s));
        work.stored_J += volume_m3 * mode_energy_Pa(r, memory.layers[at(l)], e, rest, now);
        kept_K = now_K;
      }
      // W = mu/2 (tr(M G) + 1/b - 3), of which the network loses what its modulus does.
      const double b = now.det_m4() * rest.inverse_det_per_m4;
      const double invariant = rest.m11_per_m2 * now.g11_m2 + 2.0 * rest.m12_per_m2 * now.g12_m2 +
                               rest.m22_per_m2 * now.g22_m2 + 1.0 / b - 3.0;
      const double after_Pa = network_Pa(law, memory, e);
      work.thermal_J += 0.5 * rest.volume_m3 * (before_Pa - after_Pa) * invariant;
      work.stored_J += 0.5 * rest.volume_m3 * after_Pa * invariant;
    }
    return work;
  });
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
