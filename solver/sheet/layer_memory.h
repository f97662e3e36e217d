// What does a sheet pull with whose layers differ in temperature, and remember other shapes?
//
// docs/theory/relaxation.md, "In the forming loop". Layers through the thickness, each with the modes of relaxation.h
// on its own clock. Between two updates an element pulls as a neo-Hookean one that was flat at another metric.
#pragma once

#include "mesh/refine.h"
#include "solver/sheet/heat.h"
#include "solver/sheet/relaxation.h"
#include "solver/sheet/sheet_state.h"

#include <vector>

namespace pellicle::sheet {

/// All that the next update depends on besides the shape. L layers from the mould's side, M elements.
struct LayerMemory {
  std::vector<double> shares;                   ///< L, of the thickness
  std::vector<RelaxationState<double>> layers;  ///< L
  std::vector<double> layer_K;                  ///< M x L, temperatures at the last update
  double ahead_s = 0.0;                         ///< half of the time from the last update to the next, as expected
  int count() const { return static_cast<int>(shares.size()); }
};

/// What an update takes from the stored energy, and what is left of it [J].
struct LayerWork {
  double stored_J = 0.0;   ///< network and modes of all layers after the update
  double viscous_J = 0.0;  ///< that the modes lost, by their own change
  double thermal_J = 0.0;  ///< by which the network lost with its temperature
  LayerWork& operator+=(const LayerWork& o) {
    stored_J += o.stored_J, viscous_J += o.viscous_J, thermal_J += o.thermal_J;
    return *this;
  }
};

/// The flat sheet at rest: the layers of layer_cells, or one for the whole thickness.
LayerMemory rested_layers(const HotLaw& law, const HeatState& heat, const SheetState& s, bool by_layer);

/// What the elements pull with until the next update, into s.pull: Q = mu M + P, q = mu + p of relaxation.md eq. 6 and
/// 7 with the sums that the modes carry into the middle of that time. Numbers of the kernels are those of a neo-Hookean
/// sheet of modulus `reference_Pa`.
void set_pull(const HotLaw& law, const LayerMemory& memory, double reference_Pa, SheetState& s);

/// Moves the memory on by `step_s` to the shape and the temperatures of now. s.pull stays as it was. Parallel over
/// elements, same bits for any number of threads.
LayerWork remember(const HotLaw& law, const HeatState& heat, double step_s, const SheetState& s, LayerMemory& memory);

/// Largest change of a length of any element since the last update, as a share of it. Same bits for any number of
/// threads.
double largest_strain_since(const LayerMemory& memory, const SheetState& s);

/// After sheet::refine: children have the memory of their parent. `before`: the triangles then.
void refine(LayerMemory& memory, const std::vector<Triangle>& before, const SheetState& after,
            const mesh::Refined& refined);

}  // namespace pellicle::sheet
