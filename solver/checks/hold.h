// Does the gas stay on for long enough that detail does not spring back?
//
// docs/theory/hold.md.
#pragma once

#include "solver/checks/finding.h"
#include "solver/forming/forming_result.h"
#include "solver/imprint/capture.h"
#include "solver/imprint/local_state.h"
#include "solver/sheet/heat_spec.h"

#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace pellicle::checks {

/// A relief whose depth the formed sheet has taken.
struct HeldRelief {
  std::string name;
  const imprint::ReliefAnswer& answer;
  const imprint::FormedState& state;
  std::function<mesh::Vec3(double x_m, double y_m)> place_m;  ///< of a place of the patch; may be empty
};

/// Detail may lose so much of its depth: as much as nobody measures on a part.
inline constexpr double kMayLose = 0.05;

/// id hold. Value: seconds from full pressure until the worst stroke loses no more than kMayLose of its depth when the
/// gas is let off; limit: what the stages hold after full pressure. Passes where that is enough whatever contact and
/// film are within their bands, fails where it never is. None without strokes, or where the card has no relaxation.
std::optional<Finding> hold(const HeatSpec& heat, const forming::FormingResult& formed,
                            const std::vector<HeldRelief>& reliefs);

}  // namespace pellicle::checks
