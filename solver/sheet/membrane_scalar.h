// What do membrane forces, energy and stiffness come to, one element at a time? The kernels once more, to be read.
//
// The twin that the vector kernels are held against: the same formulas in plain scalars, with the powers of the
// standard library, nothing skipped and no threads.
#pragma once

#include "solver/sheet/polymer.h"
#include "solver/sheet/sheet_state.h"

namespace pellicle::sheet::scalar {

/// f = -dW/dx into s.force_N, and area vectors into s.area_m2, of every node.
void membrane_forces(const Polymer& polymer, SheetState& s);

/// Strain energy of one element [J].
double element_energy_J(const Polymer& polymer, const SheetState& s, int element);

/// Bound on w^2 x density of one element, w the highest frequency [Pa/m^2]; not a number where its place is none.
double element_stiffness_Pa_per_m2(const Polymer& polymer, const SheetState& s, int element);

}  // namespace pellicle::sheet::scalar
