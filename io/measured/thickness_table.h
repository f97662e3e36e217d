// Where did a person measure the part's wall, and how thick was it there? A CSV table with a unit in each column's
// name.
#pragma once

#include "mesh/triangle_mesh.h"

#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace pellicle::measured {

/// One standard deviation of a wall measured by hand, with a calliper or a magnetic gauge, where the table gives none.
/// Estimate, 0.01 to 0.05 mm.
inline constexpr double kThicknessError_m = 0.02e-3;

struct ThicknessPoint {
  std::string place;                 ///< "measured.csv:4"
  std::string name;                  ///< of the person's own, may be empty
  std::optional<mesh::Vec3> at_m;    ///< on the part, in the mould's coordinates
  std::optional<mesh::Vec2> flat_m;  ///< where the place was in the flat sheet, as by a mark printed on it
  double thickness_m;
  double error_m = kThicknessError_m;  ///< one standard deviation
};

/// Columns, in any order, each but `name` with a unit of length at its end (x_mm, x_um, x_in): x, y, z together, or
/// flat_x and flat_y, or all five; thickness; optional thickness_error and name. Blank lines and lines that start with
/// # are passed over. Throws Error (case) with name:line.
std::vector<ThicknessPoint> read_thickness_table(std::string_view text, const std::string& name);
/// The same from a file of 16 MB at most.
std::vector<ThicknessPoint> load_thickness_table(const std::filesystem::path& file);

}  // namespace pellicle::measured
