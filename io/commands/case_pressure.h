// Which pressure does the sheet of a case see at most?
#pragma once

#include "solver/case.h"

#include <algorithm>
#include <optional>
#include <variant>

namespace pellicle::commands {

/// Gauge, the largest a stage ends at or is supplied with; none where only volumes are given, or no stage pushes.
inline std::optional<double> largest_pressure_Pa(const Case& c) {
  double most_Pa = 0.0;
  for (const StageSpec& stage : c.stages) {
    if (const auto* drive = std::get_if<PressureDrive>(&stage.drive)) most_Pa = std::max(most_Pa, drive->pressure_Pa);
    if (const auto* drive = std::get_if<GasDrive>(&stage.drive)) most_Pa = std::max(most_Pa, drive->supply_Pa);
  }
  return most_Pa > 0.0 ? std::optional(most_Pa) : std::nullopt;
}

}  // namespace pellicle::commands
