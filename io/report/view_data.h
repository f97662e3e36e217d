// What does the view on the page need? The kept moments of the sheet as whole numbers of 16 bits, in base64, in JSON.
#pragma once

#include "io/report/coarsened.h"
#include "io/report/figures.h"
#include "io/report/recording.h"

#include <string>
#include <vector>

namespace pellicle::report {

/// Points of all moments lie in one box, 0 to 65535 along each edge; values run from a field's least to its largest
/// over all moments, 0 to 65534, and 65535 is none. So a place is off by a 130,000th of the box at most. Little-endian.
/// Triangles are 16 bits a corner up to 65,536 nodes, then 32; a moment with those of the moment before has none of its
/// own. Moments are left out, those with the least motion first, while all together are larger than `most_bytes`; the
/// last is always there. The mould, if there is one, comes in a box of its own and besides those bytes.
std::string view_json(std::vector<Moment> moments, const Camera& camera, std::size_t most_bytes = 2'000'000,
                      const Coarsened* mould = nullptr);

}  // namespace pellicle::report
