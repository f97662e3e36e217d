// Which closed loop does the path of a drawing describe? SVG path data (W3C SVG 1.1, section 8.3; SVG 2, section 9.3),
// one closed subpath, as points.
#pragma once

#include "mesh/triangle_mesh.h"

#include <string>
#include <string_view>
#include <vector>

namespace pellicle::cases {

/// How far a chord may be off its curve, as a share of the longer side of the box around the path.
constexpr double kPathChordError = 1e-4;

/// The corners of the path and points on its curves, in the path's own unit and axes (y counts downwards); the first
/// is not repeated at the end. All commands of the grammar are read. Throws Error (case) at `where` for text that is no
/// path, an open path, or more than one.
std::vector<mesh::Vec2> read_svg_path(std::string_view path, const std::string& where);

}  // namespace pellicle::cases
