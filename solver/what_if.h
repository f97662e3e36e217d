// What would the sheet be with another gauge, stiffness, temperature or friction? The case one step on, and formed.
#pragma once

#include "solver/forming/frame.h"
#include "solver/run.h"

#include <optional>
#include <string>
#include <vector>

namespace pellicle {

/// One step of one number of a case, all else as it is.
struct WhatIf {
  std::string name;  ///< "gauge", "stiffness", "temperature", "friction"
  std::string unit;  ///< "mm", "MPa", "°C"; "-": a friction coefficient
  Case changed;
  double now;   ///< in `unit`; NaN: sticking
  double step;  ///< a factor if `by_factor`, else added
  bool by_factor;
  double most_steps;  ///< as far as it may be off by what is known of it
  std::string known;  ///< where that comes from

  /// So many steps on, in `unit`.
  double value(double steps) const;
};

/// What can be asked of this case, and why the rest cannot.
struct WhatIfs {
  std::vector<WhatIf> steps;
  std::vector<std::string> left_out;  ///< "temperature: ..."
};
/// Gauge and stiffness always; temperature where heat sets the stiffness; friction where there is a mould.
WhatIfs what_ifs(const Case& c);

/// A formed sheet and nothing else. N nodes.
struct FormedSheet {
  mesh::TriangleMesh face;  ///< that meets the mould
  std::vector<mesh::Vec2> flat_m;
  std::vector<double> thickness_m;
};
/// Forms the case, without reliefs and answers; of `sinks` progress and stop count. nullopt: it was stopped. Throws
/// Error as `run` does.
std::optional<FormedSheet> form_only(const Case& c, const Geometry& geometry, const forming::Sinks& sinks);

}  // namespace pellicle
