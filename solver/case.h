// What is to be formed, with what? The case after checking: plain values in SI, nothing left to doubt.
#pragma once

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
};

using checks::HeightTrim;
using checks::LoopTrim;
using checks::MouldTrim;
using checks::Trim;

struct Limits {
  std::optional<double> min_thickness_m;
  std::optional<double> min_capture;  ///< share of a stroke's depth
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
};

}  // namespace pellicle
