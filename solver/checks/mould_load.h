// With what does the formed sheet press on the mould, and where does it cover it?
#pragma once

#include "solver/checks/first_findings.h"
#include "solver/mould/body.h"

#include <vector>

namespace pellicle::checks {

/// Every piece of the sheet presses along its own normal with the pressure on it; forces lie on the mould.
struct MouldLoad {
  std::vector<mould::PlacedForce> forces;
  mesh::Vec3 sum_N = mesh::Vec3::Zero();
  double area_m2 = 0.0;     ///< of sheet that presses
  double highest_Pa = 0.0;  ///< pressure at a node
};

/// Pieces with edges no longer than piece_m. A node that touches the mould bears its contact pressure, and not less
/// than the largest gas pressure it has been under since it touched: what the mean over the last steps has not caught
/// up with is made up for. A node that does not touch, but shuts air in above the mould, hands on that air's pressure
/// as the last stage ends, on the nearest place of the mould: air behind a sheet presses on what is below it as much as
/// on the sheet. A node of the rim that lies on the mould bears the gas as the last stage ends. Between nodes pressure
/// is linear. Needs a mould surface.
MouldLoad mould_load(const Formed& formed, double piece_m);

/// What lies on a triangle of the mould; means over its covered places.
struct Cover {
  double share = 0.0;  ///< of its area
  double thickness_m = 0.0;
  double temperature_K = 0.0;  ///< of the sheet as the stages end: through its thickness, or the case's without heat
};
/// One a triangle of the mould.
std::vector<Cover> mould_cover(const Formed& formed);

}  // namespace pellicle::checks
