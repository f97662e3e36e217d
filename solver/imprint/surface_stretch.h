// How far is the formed sheet stretched along a line on it?
#pragma once

#include "mesh/triangle_mesh.h"
#include "solver/forming/forming_result.h"

#include <Eigen/Core>

namespace pellicle::imprint {

/// b = F F^T of one triangle, F from its flat to its formed shape. e.b.e is the squared stretch that counts for a wave
/// along the unit line e of its plane (compliance.h): the Cauchy stress of a neo-Hookean sheet is G b. Of lines along
/// the principal stretches it is their length over their flat length, squared. Nothing out of the plane: b n = 0. In a
/// folded triangle this is the surface's stretch, not the material's.
Eigen::Matrix3d stretch_tensor(const forming::FormingResult& formed, int triangle);

}  // namespace pellicle::imprint
