// How are the fields a person looks at recovered from the running state?
#pragma once

#include "solver/forming/forming_result.h"
#include "solver/forming/snapshot.h"
#include "solver/mould/rigid_mould.h"
#include "solver/sheet/sheet_state.h"

#include <vector>

namespace pellicle::forming {

/// sum V0 / sum A over the node's triangles, A of the material with folds pulled out.
double node_thickness_m(const sheet::SheetState& state, const std::vector<double>& triangle_thickness_m, int node);

FormingResult recover(const sheet::SheetState& state, const std::vector<Touch>& touch, const mould::RigidMould& mould);

}  // namespace pellicle::forming
