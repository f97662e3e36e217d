// What is to be formed, with what? The case after checking: plain values in SI, nothing left to doubt.
#pragma once

#include "solver/card_bands.h"
#include "solver/checks/mould_spec.h"
#include "solver/checks/part.h"
#include "solver/forming/forming_spec.h"
#include "solver/imprint/relief_spec.h"

#include <optional>
#include <string>
#include <variant>
#include <vector>

namespace pellicle {

struct MouldSpec {
  bool platform;  ///< the plane z = 0
  Friction friction;
  std::optional<double> layer_height_m = {};         ///< of the print
  mesh::Vec3 build_direction = mesh::Vec3::UnitZ();  ///< unit; layers were stacked along it, in placed coordinates
  bool platform_leaks = true;                        ///< it is perforated
  std::vector<PlacedVent> vents = {};                ///< told by the case, beside those drawn into the surface
  std::optional<MouldBuild> build = {};              ///< none: the case says too little of wall and resin
};

using checks::HeightTrim;
using checks::LoopTrim;
using checks::MouldTrim;
using checks::Trim;

struct Limits {
  std::optional<double> min_thickness_m;
  std::optional<double> min_capture;            ///< share of a stroke's depth
  std::optional<double> max_layer_line_m = {};  ///< highest less lowest point, on the face that met the mould
};

struct Case {
  std::string title;
  SheetSpec sheet;
  std::optional<MouldSpec> mould;  ///< none: free inflation
  std::vector<StageSpec> stages;
  std::vector<imprint::ReliefSpec> reliefs;
  Trim trim;
  Limits limits;
  Numerics numerics;
  std::optional<HeatSpec> heat = {};  ///< none: the case says too little, or does not want it followed
  CardBands bands = {};               ///< read by the spread alone
};

}  // namespace pellicle
