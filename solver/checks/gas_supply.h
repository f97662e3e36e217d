// Does the gas come through its throat fast enough?
//
// docs/theory/gas.md, "How fast the throat fills".
#pragma once

#include "solver/air/filling.h"
#include "solver/checks/finding.h"

#include <optional>
#include <string>
#include <vector>

namespace pellicle::checks {

/// A stage that is driven by gas through a throat, and how far the sheet went in it.
struct GasStage {
  std::string name;
  double duration_s;
  air::Filling filling;  ///< up to the share of the supply that is asked about
};
inline constexpr double kFull = 0.9;  ///< share of the supply, gauge, that counts as there

/// Finding `gas_supply`: the longest time to nine tenths of the supply; nothing without such a stage. In doubt where
/// that takes more than half of the stage: then the throat decides when the sheet is pressed, and a sheet that chills
/// takes detail by what presses it early.
std::optional<Finding> gas_supply(const std::vector<GasStage>& stages);

}  // namespace pellicle::checks
