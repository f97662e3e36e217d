// What profile does a table of points hold? CSV with the columns x_mm,z_mm.
#pragma once

#include "mesh/height_map.h"

#include <cstddef>
#include <string>
#include <string_view>

namespace pellicle::reliefs {

constexpr std::size_t kMostProfilePoints = 100'000;  // a point a micrometre over 100 mm
constexpr double kLargestProfile_mm = 1000.0;        // either way; beyond it the unit is wrong

/// The header x_mm,z_mm, then a point a line, x strictly rising, at least two heights that differ. Blank lines and
/// lines that start with # are passed over, lines may end with LF or CR LF. A round profile starts at x = 0, its axis;
/// a periodic strip ends at the height it starts with, for there the next begins. Throws Error (geometry) with
/// name:line.
mesh::Profile read_profile_csv(std::string_view text, const std::string& name, mesh::Profile::Kind kind,
                               bool periodic = false);

}  // namespace pellicle::reliefs
