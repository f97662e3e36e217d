// How fast can the flat sheet shake, place by place? Elements that are stretched little shake no faster.
#pragma once

#include "solver/sheet/polymer.h"
#include "solver/sheet/sheet_state.h"

#include <vector>

namespace pellicle::sheet {

/// Highest frequency of the flat, taut sheet around each element, for these masses (N) [1/s]. M. By power iteration on
/// M^-1 K, K by central differences of the membrane force, in which every node keeps nearly the same amplitude: then
/// the ratio |M^-1 K v|/|v| of each node tells of its own surroundings, and the greatest comes out above the highest
/// frequency, by 6 to 25 % in all that was tried, where the bound of the elements is 47 to 78 % above
/// (docs/theory/time.md, "Stable step"). The sheet is left as it is; only its blocks lend their room.
std::vector<double> flat_frequency_per_s(const Polymer& polymer, SheetState& s, const std::vector<double>& mass_kg);

}  // namespace pellicle::sheet
