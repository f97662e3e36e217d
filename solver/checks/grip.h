// How hard does the part hold on to the mould once it has shrunk, and what lifts it off?
//
// docs/theory/demould.md.
#pragma once

#include "solver/checks/first_findings.h"

#include <array>
#include <vector>

namespace pellicle::checks {

/// A stretch of convex edge of the mould with the part round it. Smooth walls are rows of such edges, each turning a
/// little, so that sums over them are those over the mould as it is printed.
struct HeldEdge {
  mesh::Vec3 place_m;
  double length_m;
  double thickness_m;  ///< of the part there
  double turn_rad;     ///< between the two faces that meet in it
  struct Face {
    mesh::Vec3 normal;  ///< unit, outward
    bool is_level;  ///< less than 45 degrees from square to the pull, up or down: held both ways, else only along its
                    ///< level line
    double across;  ///< share of a tension along the level line that pulls across the edge
  };
  std::array<Face, 2> faces;
};
/// Samples no longer than half the bought thickness, where a piece of the part that touches is within half of it: of
/// the edge, and of both faces one thickness beside it.
std::vector<HeldEdge> held_edges(const Formed& formed, const mesh::Vec3& pull);

/// Stress of the shrunk part in the plane of its wall.
struct ShrinkStress {
  double one_way_Pa;    ///< E times strain
  double both_ways_Pa;  ///< over 1 - nu
};

/// What presses one face of a held edge, outward normal of that face.
struct Pressed {
  mesh::Vec3 place_m, normal;
  double force_N;
};
/// Tensions N1, N2 per length of the faces on either side, which turn by b: normal forces per length (2) and (3) of
/// demould.md. Faces without force are left out.
std::vector<Pressed> pressed(const std::vector<HeldEdge>& edges, const ShrinkStress& stress);

/// Sum of (mu cos(draft) - sin(draft)) times the normal force where that is positive: what resists the pull. A wall
/// that would slip off by itself does not help the others.
double lifting_force_N(const std::vector<Pressed>& pressed, const mesh::Vec3& pull, double friction);

/// How far a level part domes under air from below, its rim held: a round plate of radius a, clamped,
/// p a^4/(E h^4) = (5.33 w/h + 2.6 (w/h)^3)/(1 - nu^2) (Roark, plates of large deflection; from memory) [m].
double lifted_bulge_m(double pressure_Pa, double radius_m, double thickness_m, double modulus_Pa, double poisson);

}  // namespace pellicle::checks
