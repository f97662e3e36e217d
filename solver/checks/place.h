// Is the sheet on the mould there, and how is the place told?
#pragma once

#include "mesh/triangle_mesh.h"

#include <string>

namespace pellicle::checks {

/// The sheet counts as on the mould within this share of the bought thickness: a chord over a curve is no gap.
inline constexpr double kOnMould = 0.10;

/// "(12.3, -4.0, 4.2) mm", in the mould's own coordinates.
std::string place_text(const mesh::Vec3& place_m);

}  // namespace pellicle::checks
