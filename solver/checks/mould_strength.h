// Does the printed mould bear the pressure, how far does it give way, and how thick must its shell be?
//
// docs/theory/mould_strength.md.
#pragma once

#include "solver/checks/mould_load.h"
#include "solver/checks/mould_spec.h"
#include "solver/checks/mould_temperature.h"
#include "solver/checks/mould_vents.h"

#include <string>
#include <vector>

namespace pellicle::checks {

/// Under repeated load glassy resins crack at a third to two thirds of their strength (from memory); ours.
inline constexpr double kCycledShare = 0.5;

/// What the checks on the mould's body look at.
struct MouldCase {
  const Formed& formed;
  const MouldBuild& build;
  mesh::Vec3 build_direction = mesh::Vec3::UnitZ();  ///< unit
  const MouldWarmth* warmth = nullptr;               ///< none: the mould is as warm as build.start_K
  MouldStop stop = [] { return false; };
  double most_cells = 200e3;            ///< with material, on the finer cells: some ten seconds
  std::vector<DrilledVent> vents = {};  ///< told by the case; those drawn into the surface are in it
};

/// One solution on cells of one size.
struct MouldSolution {
  double cell_m = 0.0;
  double shift_m = 0.0;  ///< largest of a node
  mesh::Vec3 shift_place_m = mesh::Vec3::Zero();
  double share = 0.0;  ///< of the strength at temperature, where that is largest; what pulls layers apart counts more
  mesh::Vec3 share_place_m = mesh::Vec3::Zero();
  double tension_Pa = 0.0, strength_Pa = 0.0;  ///< there, likely
  double vent_tension_Pa = 0.0;                ///< largest along the rim of a hole too narrow for the cells; 0: none
  mesh::Vec3 vent_place_m = mesh::Vec3::Zero();
  double working_Pa = 0.0;                 ///< von Mises stress that 95 % of the shell's nodes stay below
  mesh::Vec3 load_N = mesh::Vec3::Zero();  ///< what the cells were given
  std::vector<double> triangle_shift_m;    ///< a triangle of the mould
  std::vector<double> triangle_share;      ///< ... and of the shell behind it; NaN at the foot
};

/// The mould under the formed sheet. Places no higher above the floor than foot_m are left out of share and working
/// stress: the platform holds the foot stiffly, and stresses there grow as cells shrink. With `slides` it may slide.
/// Vents too narrow for the cells raise the stress beside them as rim_stress_Pa says, and count as any other place
/// does.
MouldSolution solve_mould(const MouldCase& c, const MouldLoad& load, double cell_m, double foot_m, bool slides = false);

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
