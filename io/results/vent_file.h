// Where are the vents, and where should there be some, for eyes? vents.xdmf and vents.h5.
#pragma once

#include "io/results/result_folder.h"
#include "solver/vents.h"

#include <vector>

namespace pellicle::results {

/// One flat disc of the hole's diameter a vent, and the bare numbers beside it (docs/result_format.md). Nothing is
/// written without vents.
void write_vents(ResultFolder& folder, const std::vector<VentPoint>& vents);

}  // namespace pellicle::results
