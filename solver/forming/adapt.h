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

/// Marks the elements to cut, one a triangle. `moved` marks the nodes (N) that have moved since the last call: an
/// element with none of them on it or next to it is not looked at. creases may be null.
std::vector<char> elements_to_cut(const SheetSpec& spec, const sheet::SheetState& s, const std::vector<Touch>& touch,
                                  const mould::RigidMould& mould, const mould::Creases* creases,
                                  const std::vector<mould::Neighbourhood>& near, const std::vector<char>& moved);

}  // namespace pellicle::forming
