// In what state is the formed sheet over a patch of fine detail?
#pragma once

#include "mesh/triangle_mesh.h"
#include "solver/forming/forming_result.h"
#include "solver/imprint/relief_spec.h"

#include <optional>
#include <string>

namespace pellicle::imprint {

/// Where a patch lies: its lower left corner, its axes and its normal in the mould's coordinates.
struct PatchFrame {
  mesh::Vec3 corner_m = mesh::Vec3::Zero();
  mesh::Vec3 along_x = mesh::Vec3::UnitX(), along_y = mesh::Vec3::UnitY(), normal = mesh::Vec3::UnitZ();
  double width_m = 0.0, length_m = 0.0;  ///< along x and y

  mesh::Vec3 place(double x_m, double y_m, double height_m) const {
    return corner_m + x_m * along_x + y_m * along_y + height_m * normal;
  }
};

/// The sheet over the patch when it was pressed hardest; from the case or from forming.
using LocalState = GivenState;

/// The formed sheet over a patch: area means over the part of the sheet whose underside, seen along the normal, lies
/// over the patch.
struct FormedState {
  LocalState state;
  double touching_share = 0.0;                             ///< of that area
  double thickness_least_m = 0.0, thickness_most_m = 0.0;  ///< over the patch
  double touched_s = 0.0;                                  ///< mean of the first touch, of what has touched
  double start_K = 0.0;                                    ///< mean as it left the heater; 0 where heat is not followed
  double larger_stretch_angle_rad = 0.0;                   ///< of the mean larger stretch, from the patch's x
};

/// None where no sheet lies over the patch, or it never touched there: no pressure ever pressed it on. Only sheet that
/// faces the normal, and is no farther from the plane of the patch than its longer side, counts: not the other wall of
/// the mould. Pressure is the area mean of the largest gas pressure since touch, over what touches (where nothing does
/// any more: over what has touched); stretches along the patch are roots of the diagonal of the mean of b = F F^T in
/// the patch's axes.
std::optional<FormedState> formed_state(const forming::FormingResult& formed, const PatchFrame& frame,
                                        double shear_modulus_Pa);

}  // namespace pellicle::imprint
