// What becomes of the fine detail of a case? Each relief is placed, given the state of the sheet over it, answered.
#pragma once

#include "mesh/height_map.h"
#include "solver/case.h"
#include "solver/checks/finding.h"
#include "solver/forming/forming_result.h"
#include "solver/imprint/capture.h"
#include "solver/relief_patch.h"

#include <functional>
#include <optional>
#include <string>
#include <variant>
#include <vector>

namespace pellicle {

/// What a relief of the case looks like, as read from its source.
struct ReliefShape {
  std::optional<std::variant<mesh::HeightMap, mesh::Profile>> shape;  ///< none: what the mould shows there
  std::vector<imprint::Label> labels;                                 ///< of text and braille
};

/// One relief with its answer.
struct ReliefResult {
  imprint::ReliefSpec spec;
  imprint::PatchFrame frame;               ///< of a profile: its own coordinates, z up
  double top_m = 0.0;                      ///< highest point of the relief over its carrier: heights count from there
  std::optional<mesh::HeightMap> carrier;  ///< height of the surface that carries it over the frame's plane; none: 0
  std::optional<imprint::FormedState> formed;  ///< none: the state is the case's
  imprint::ReliefAnswer answer;
  std::optional<checks::Band> capture_band = {};  ///< of answer.capture; none: not asked for, or not found

  /// Place in the mould's coordinates; height counts from the highest point of the relief.
  mesh::Vec3 place_m(double x_m, double y_m, double height_m) const {
    const double carrier_m = carrier ? mesh::height_at(*carrier, x_m, y_m) : 0.0;
    return frame.place(x_m, y_m, height_m + top_m + carrier_m);
  }
};

struct Reliefs {
  std::vector<ReliefResult> results;
  std::vector<checks::Finding> findings;  ///< one a relief, those without a result included
  std::vector<std::string> warnings;
  bool stopped = false;
};

/// Throws Error (geometry, or case for a grid too fine) naming the first relief of the case that does not lie on the
/// mould. `shapes`: one for each relief of the case.
void check_places(const Case& c, const std::vector<ReliefShape>& shapes, const mould::RigidMould& mould);

/// Answers the reliefs of the case; without any, what find_relief finds on the mould's surface under the formed sheet,
/// the largest few. `formed` may be null where every relief has a state. Throws what capture throws. `stop` is asked
/// before each press and section.
Reliefs answer_reliefs(const Case& c, const std::vector<ReliefShape>& shapes, const mould::RigidMould& mould,
                       const forming::FormingResult* formed, const std::function<bool()>& stop);

}  // namespace pellicle
