// How is the mould printed and filled, and how fast does the bench use it? Plain checked values in SI.
#pragma once

#include "mesh/voxels.h"
#include "solver/checks/resin.h"
#include "solver/sheet/heat.h"

#include <optional>
#include <vector>

namespace pellicle {

struct MouldBuild {
  double wall_m;        ///< of the shell; no matter if solid
  mesh::Inside inside;  ///< of what is behind the shell
  bool base_open;       ///< a hollow or filling reaches down to the platform; else the shell has a bottom
  ResinSpec resin;
  double start_K;                                   ///< of mould and platform before the first part
  double hold_s;                                    ///< from the end of the stages until the part is lifted
  double open_s;                                    ///< from then until the next sheet
  int parts = 50;                                   ///< that the mould is to make
  std::vector<ResinSpec> cards = {};                ///< resins to compare this one with
  std::optional<sheet::HeatMaterial> polymer = {};  ///< of the sheet; none: no card tells
};

}  // namespace pellicle
