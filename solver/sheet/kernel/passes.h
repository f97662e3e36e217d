// The table of kernels for one instruction set. Included by one file for each, which names the set.
#pragma once

#include "solver/sheet/kernel/element_passes.h"
#include "solver/sheet/kernel/force_pass.h"
#include "solver/sheet/kernel/lot_pass.h"
#include "solver/sheet/kernel/memory_pass.h"

namespace pellicle::sheet::PELLICLE_KERNEL_SET {

inline void forces(const LawNumbers& law, const NodesView& sheet, const BlockView& block, const ScratchView& scratch) {
  with_law(law, [&](const auto& lanes) { block_forces(lanes, sheet, block, scratch); });
}

inline void energies_J(const LawNumbers& law, const ElementsView& sheet, int first, int count, double* energy_J) {
  const Picked elements(sheet, first, count);
  with_law(law, [&](const auto& lanes) { energies(lanes, elements, energy_J); });
}

inline void stiffnesses_Pa_per_m2(const LawNumbers& law, const ElementsView& sheet, int first, int count,
                                  double* stiffness) {
  const Picked elements(sheet, first, count);
  with_law(law, [&](const auto& lanes) { stiffnesses(lanes, elements, stiffness); });
}

inline void log_group(const double* x, double* log_x) {
  for (int k = 0; k < kGroup; k += kLanes) store(log_x + k, log_of(load(x + k)));
}
inline void exp_group(const double* x, double* exp_x) {
  for (int k = 0; k < kGroup; k += kLanes) store(exp_x + k, exponential(load(x + k)).value());
}

inline Kernels table(const char* name) {
  return {name,           forces,      energies_J,  stiffnesses_Pa_per_m2,
          remember_group, carry_group, predict_lot, hold_lot,
          push_lot,       way_of_lot,  move_lot,    lie_lot,
          log_group,      exp_group};
}

}  // namespace pellicle::sheet::PELLICLE_KERNEL_SET
