// Which narrow slots, and holes that do not stand upright, go right through a mould?
//
// docs/theory/trapped_air.md, "Holes".
#pragma once

#include "mesh/holes.h"

#include <vector>

namespace pellicle::mesh {

/// All no wider than `largest_m` whose axis leans at most 60 degrees and that are not among `known`: from each wall
/// straight across to one that faces it, then the direction that all walls around run along. A slot is as wide all
/// along its long side to a third, and no longer than twelve times `largest_m`; what is nearer to round than 3 : 5 is a
/// round hole. In the order of the surface's triangles.
std::vector<ThroughHole> slots_and_slanting(const Nearest& mould, double largest_m,
                                            const std::vector<ThroughHole>& known);

}  // namespace pellicle::mesh
