// What can be said of the formed part at once? Wall, contact, detail by the screening formulas, tearing.
#pragma once

#include "solver/checks/finding.h"
#include "solver/forming/forming_result.h"
#include "solver/imprint/screening.h"
#include "solver/mould/rigid_mould.h"
#include "solver/sheet/sheet_spec.h"

#include <optional>
#include <vector>

namespace pellicle::checks {

/// All that the checks look at. The references must outlive the call.
struct Formed {
  const forming::FormingResult& sheet;
  const imprint::Screening& detail;
  const mould::RigidMould& mould;
  const SheetSpec& spec;
  const std::vector<char>& in_part;  ///< N, see part.h
  double draws_from_K = 0.0;         ///< the forming window begins there; 0: not known, or heat was not followed
};

/// Smallest node thickness inside the part.
double thinnest_m(const Formed& formed);

Finding thinnest_wall(const Formed& formed, std::optional<double> min_thickness_m);
Finding mean_wall(const Formed& formed);
Finding mould_touched(const Formed& formed);
Finding finest_radius(const Formed& formed);
std::vector<Finding> stroke_captures(const Formed& formed);
Finding tear(const Formed& formed);

}  // namespace pellicle::checks
