// Which grooves did a person measure? A CSV table with a header of known columns.
#pragma once

#include "solver/fit/groove_readback.h"

#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace pellicle::measured {

/// What a row without the column has.
struct GrooveDefaults {
  double gauge_m;                     ///< thickness as bought; thickness = gauge over both stretches
  std::optional<double> pressure_Pa;  ///< none: the column pressure_bar is required
};

/// Columns, in any order: width_mm, depth_mm; optional thickness_mm, edge_radius_mm (0), pressure_bar, depth_error_mm
/// (0.01), floor_mm, stretch_across (1), stretch_along (1). Blank lines and lines that start with # are passed over; an
/// empty cell means the default. Throws Error (case) with name:line.
std::vector<fit::Groove> read_groove_table(std::string_view text, const std::string& name,
                                           const GrooveDefaults& defaults);
/// The same from a file of 1 MB at most.
std::vector<fit::Groove> load_groove_table(const std::filesystem::path& file, const GrooveDefaults& defaults);

}  // namespace pellicle::measured
