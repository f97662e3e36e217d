// Which part of the formed sheet is the part, and which is waste?
#pragma once

#include "mesh/triangle_mesh.h"
#include "solver/forming/forming_result.h"
#include "solver/mould/rigid_mould.h"

#include <variant>
#include <vector>

namespace pellicle::checks {

struct MouldTrim {};  ///< the mould's own outline seen from above; everything without a mould
struct LoopTrim {
  std::vector<mesh::Vec2> loop_m;
};
struct HeightTrim {
  double above_platform_m;
};
/// What part of the sheet is the part: findings are for what lies inside.
using Trim = std::variant<MouldTrim, LoopTrim, HeightTrim>;

/// N, 1 = inside the trim, by where the node is in the formed sheet.
std::vector<char> part_nodes(const forming::FormingResult& formed, const mould::RigidMould& mould, const Trim& trim);

}  // namespace pellicle::checks
