// Into cells of what size is a printed mould cut, so that walls are resolved and nobody waits?
#pragma once

#include "mesh/nearest.h"
#include "mesh/voxels.h"
#include "solver/checks/mould_spec.h"

#include <optional>
#include <string>
#include <vector>

namespace pellicle::checks {

struct CellBudget {
  double solid;  ///< cells with material
  double box;    ///< cells with air, in the mould's box
};

/// `wanted_m`, or larger as the budget asks.
double affordable_cell_m(const mesh::Nearest& surface, const MouldBuild& build, double wanted_m,
                         const CellBudget& budget);

/// Error (kGeometry) as mesh::voxels_of.
mesh::Voxels mould_cells(const mesh::Nearest& surface, const MouldBuild& build, double cell_m,
                         std::optional<double> platform_m, std::vector<mesh::Bore> bores = {});

/// Whether anything is left behind the shell: else a hollow or filled mould is a block of resin, and its shell's
/// thickness says nothing. Less than a fiftieth of it counts as nothing. Error (kGeometry) as mesh::voxels_of.
bool has_inside(const mesh::Nearest& surface, const MouldBuild& build, std::optional<double> platform_m);

/// What stands under the sheet and on what, to follow "a": "hollow shell of 2.00 mm, open below: it stands on ...".
std::string build_text(const MouldBuild& build);

}  // namespace pellicle::checks
