// Does the printed mould bear the pressure, how far does it give way, and how thick must its shell be?
//
// docs/theory/mould_strength.md.
#pragma once

#include "solver/checks/mould_solution.h"

#include <string>
#include <vector>

namespace pellicle::checks {

struct MouldStrength {
  std::vector<Finding> findings;  ///< mould_stress, mould_deflection
  MouldSolution solution;         ///< on the finer cells; without triangles where there is no answer
  double highest_Pa = 0.0;        ///< that presses on the mould anywhere
  double down_N = 0.0;            ///< all of the load, straight down as negative
};

/// ids mould_stress (MPa: largest tension; limit: what many pressings may use of the strength there, warm) and
/// mould_deflection (mm). Two sizes of cells; the smallest shell that holds and what plaster would do are solved too.
/// Without an answer, as of walls too thin for their mould, both are in doubt and say why. Throws mould::Stopped.
MouldStrength mould_strength(const MouldCase& c);
/// Both findings in doubt, without a number.
MouldStrength no_mould_strength(const std::string& why, const std::string& advice);

}  // namespace pellicle::checks
