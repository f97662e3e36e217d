// Which holes let air out of a mould, and what became of the air under the sheet?
#pragma once

#include "solver/case.h"
#include "solver/checks/pockets.h"
#include "solver/forming/forming_result.h"
#include "solver/forming/snapshot.h"
#include "solver/mould/rigid_mould.h"

#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace pellicle {

/// A vent of the mould, or one that is advised.
struct VentPoint {
  enum class Origin { kCase, kSurface, kAdvised };
  mesh::Vec3 place_m;  ///< where it opens
  double diameter_m;
  Origin origin;
};

/// The vents of the case and the round holes drawn into the surface; none where air is not followed: without a mould
/// surface, or numerics.trapped_air = false.
std::optional<AirSpec> air_spec(const Case& c, const mould::RigidMould& mould);

/// Height at which a vent opens: none beside mould and platform.
std::optional<double> opening_m(const mould::RigidMould& mould, const PlacedVent& vent);

/// Air leaves a hollow of the mould at this place, or within so far of it: by a vent, or by a platform that leaks.
bool lets_out(const AirSpec& air, const mould::RigidMould& mould, const mesh::Vec2& p_m, double within_m);

/// Vents of the case that open into nothing: beside the mould, or on a platform that leaks.
void warn_of_vents(const Case& c, const mould::RigidMould& mould, std::vector<std::string>& warnings);

/// The sheet formed as if all air left; nullopt if that was stopped or did not come to an end.
using WithoutAir = std::function<std::optional<forming::FormingResult>()>;

/// Findings `pockets` and `vents`, and all places of vents, those of the case first. Where pockets without a vent hold
/// the part off, nobody knows yet where it would have touched last: the sheet is formed once more, `without_air`.
struct AirAnswer {
  std::vector<checks::Finding> findings;
  std::vector<VentPoint> vents;
};
AirAnswer answer_air(const Case& c, const checks::Formed& formed, const AirSpec& spec, const forming::TrappedAir& air,
                     const WithoutAir& without_air);

}  // namespace pellicle
