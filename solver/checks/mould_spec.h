// How is the mould printed and filled, and how fast does the bench use it? Plain checked values in SI.
#pragma once

#include "mesh/voxels.h"
#include "solver/checks/resin.h"
#include "solver/sheet/heat.h"
#include "solver/sheet/heat_spec.h"

#include <optional>
#include <vector>

namespace pellicle {

/// Between a print and the plate it stands on: 0.2 (0.1 to 0.3) mm of air, 0.026 W/mK. An estimate.
inline constexpr Estimate kBase_W_m2K{130.0, 87.0, 260.0};

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
  bool tries = true;  ///< other shells, plaster and paces are tried for the advice; false: numbers alone, far sooner
  // What belongs to the bench, as in HeatSpec.
  double contact_W_m2K = kContact_W_m2K.likely;
  double still_film_W_m2K = kStillFilm_W_m2K.likely;
  double gas_film_W_m2K = kGasFilm_W_m2K.likely;
  double base_W_m2K = kBase_W_m2K.likely;
};

}  // namespace pellicle
