// Does the part come off the mould, with what force, and at what scale is the mould to be printed?
//
// docs/theory/demould.md.
#pragma once

#include "solver/checks/pull.h"

#include <optional>
#include <vector>

namespace pellicle::checks {

/// What the part that lies on the mould makes of one way to pull it off.
struct Pull {
  const Formed& formed;
  const std::vector<Lying>& lying;      ///< lying_in_part of the same
  const std::vector<Trapped>& trapped;  ///< along the same direction
  mesh::Vec3 direction = mesh::Vec3::UnitZ();
  std::optional<PullMeasure> best = {};  ///< the best way, if it was looked for: for the advice
};

/// Do draft or undercut ask for a better way?
bool is_hindered(const Pull& pull);

/// id draft. Value: least draft of a wall that the part lies on, in degrees. Passes from 2 degrees on, fails below half
/// a degree on walls higher than the bought sheet is thick.
Finding draft(const Pull& pull);
/// id undercut. Value: depth of the place that strains the part most, in mm; limit: that at which the polymer yields
/// there, if its card is known. Passes without any or up to a strain of
/// 0.1 %, is in doubt where the part snaps off, fails where that takes more than the polymer's yield strain.
Finding undercut(const Pull& pull);
/// id release. Value: likely force to lift the part off a mould without release agent, in N.
Finding release(const Pull& pull);
/// id shrinkage. Value: by how much the mould is to be printed larger than the part, in %.
Finding shrinkage(const Pull& pull);

/// Per triangle of the mould; NaN where the part does not lie on it or hang under it.
struct DemouldField {
  std::vector<double> draft_deg, undercut_m;  ///< M
};
DemouldField demould_field(const Pull& pull);

struct Demoulding {
  std::vector<Finding> findings;  ///< draft, undercut, release, shrinkage
  DemouldField field;
};
/// Straight up. Only with a mould surface: a part on the platform alone lies loose.
Demoulding demould(const Formed& formed);

}  // namespace pellicle::checks
