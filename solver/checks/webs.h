// Where does the sheet fold, how much is in excess there, and what room would it need?
//
// docs/theory/webs.md.
#pragma once

#include "solver/checks/first_findings.h"

namespace pellicle::checks {

/// Triangles that fold and hang together.
struct Web {
  double excess_m = 0.0;  ///< material across the fold less the width it covers, at the worst station along it
  double length_m = 0.0;  ///< along the fold
  mesh::Vec3 place_m = mesh::Vec3::Zero();  ///< centre of the worst station
  mesh::Vec3 along = mesh::Vec3::UnitX();   ///< unit, direction of the fold
  bool in_part = false;                     ///< some of it lies inside the trim
};

/// All webs, widest first; of equals in the order of their first triangles.
std::vector<Web> find_webs(const Formed& formed);

/// What stands beside a web: the features it hangs between.
struct Spacing {
  double gap_m;     ///< between the two features, level, across the web
  double height_m;  ///< of the lower of the two above what lies below the web
};
/// nullopt where the web has a feature on one side only, as at a corner.
std::optional<Spacing> spacing_at(const mould::RigidMould& mould, const Web& web);

Finding webs(const Formed& formed);

}  // namespace pellicle::checks
