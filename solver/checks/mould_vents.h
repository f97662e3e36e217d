// What do holes for air cost a printed mould in strength?
//
// docs/theory/mould_strength.md, "Vents".
#pragma once

#include "mesh/voxels.h"
#include "solver/checks/mould_spec.h"
#include "solver/mould/brick.h"

#include <vector>

namespace pellicle::checks {

/// An upright hole drilled into the mould from above: its land, then wider down to the floor.
struct DrilledVent {
  mesh::Vec3 top_m;   ///< middle, on the surface
  double floor_m;     ///< height of its lower end
  double diameter_m;  ///< of the land
  double land_m;
  double below_m;       ///< diameter under the land, >= diameter_m
  double slot_m = 0.0;  ///< long side of a slot, whose width is diameter_m; 0: round
};

/// A place on the axis of a hole, and how much longer than wide the hole is there; 1: round.
struct NarrowPlace {
  mesh::Vec3 at_m;
  double long_by_wide = 1.0;
};

/// A hole narrower than this many cells is not cut out of them: they would smear the stress beside it away. Nor is a
/// slot, as which way it runs is not known.
inline constexpr double kCellsAcross = 8.0;

/// What of them cells of this size hold: lands and lower parts each by its own diameter.
std::vector<mesh::Bore> bored(const std::vector<DrilledVent>& vents, double cell_m);

/// Largest stress along the rim of a hole across which a wall bears this stress, the hole along `axis` (unit): K s1 -
/// s2 with s1 >= s2 the principal stresses square to the axis. Round: K = 3 (Kirsch 1898: Timoshenko & Goodier, Theory
/// of Elasticity, 35; from memory). A slot whose ends are round, w wide and l long, counts as the ellipse of the same
/// half length a = l/2 and radius rho = w/2 at its ends, K = 1 + 2 sqrt(a/rho) with s1 across it, 1 + 2 sqrt(rho/a)
/// with s1 along it (Inglis 1913; from memory); the worse of both. Of stress even through the wall; bent walls have
/// less, a round hole down to (5 + 3 nu)/(3 + nu).
double rim_stress_Pa(const mould::Voigt& stress_Pa, const mesh::Vec3& axis, double long_by_wide = 1.0);

/// Places on the axes of what cells of this size do not hold, where it goes through shell: half a cell apart.
std::vector<NarrowPlace> narrow_vents(const std::vector<DrilledVent>& vents, const mesh::Nearest& surface,
                                      const MouldBuild& build, double cell_m);

}  // namespace pellicle::checks
