// How wide is what the mould does not hold yet?
#pragma once

#include "solver/forming/snapshot.h"
#include "solver/sheet/sheet_state.h"

#include <vector>

namespace pellicle::forming {

/// R of the disc that answers as slowly as the widest part of the sheet between rim and nodes that stick. Of a strip
/// of half width a that is 2.405/(pi/2) a, the ratio of their lowest frequencies (first root of J0: Morse & Ingard,
/// Theoretical Acoustics, 1968; from memory); taken for every part, and a along the edges of the flat sheet, up to 15 %
/// longer than straight: both on the slow side. 0 where everything is held.
double free_half_width_m(const sheet::SheetState& s, const std::vector<Touch>& touch);

}  // namespace pellicle::forming
