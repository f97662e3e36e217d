// Where must the sheet's elements be finer? Where the mould under them turns, and where the sheet itself bends.
//
// docs/theory/refinement.md.
#pragma once

#include "solver/forming/snapshot.h"
#include "solver/mould/creases.h"
#include "solver/mould/rigid_mould.h"
#include "solver/sheet/sheet_spec.h"
#include "solver/sheet/sheet_state.h"

#include <vector>

namespace pellicle::forming {

/// Marks the elements to cut, one a triangle. `moved` marks the nodes that have moved since the last call; empty = all.
/// `standing` marks the elements that were looked at and have not moved since, and is brought up to date. creases may
/// be null.
std::vector<char> elements_to_cut(const SheetSpec& spec, const sheet::SheetState& s, const std::vector<Touch>& touch,
                                  const mould::RigidMould& mould, const mould::Creases* creases,
                                  const std::vector<mould::Neighbourhood>& near, const std::vector<char>& moved,
                                  std::vector<char>& standing);

}  // namespace pellicle::forming
