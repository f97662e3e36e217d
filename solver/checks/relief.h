// Does a relief form, and what would make it form deeper?
#pragma once

#include "solver/checks/finding.h"
#include "solver/imprint/capture.h"
#include "solver/imprint/local_state.h"
#include "solver/imprint/relief_spec.h"

#include <functional>
#include <optional>
#include <string>

namespace pellicle::checks {

/// The share of a stroke's depth that counts as formed: the case's limit, else 0.8. That number is ours, for want of a
/// published one: what is formed to four fifths reads and feels as drawn.
double wanted_share(std::optional<double> min_capture);

/// All that is known of one relief. The references must outlive the call.
struct ReliefAsked {
  const imprint::ReliefSpec& spec;
  const imprint::ReliefAnswer& answer;
  const std::optional<imprint::FormedState>& formed;          ///< none: the state is the case's
  std::function<mesh::Vec3(double x_m, double y_m)> place_m;  ///< empty: it has no place on the mould
  bool sections = true;                                       ///< were they wanted?
};

/// id relief_<name>. Value: the share of depth the worst stroke takes; of a relief without strokes the patch's. In
/// doubt where the limit lies between sticking and sliding, or where the number is outside its model's range.
Finding relief(const ReliefAsked& asked, std::optional<double> min_capture);

/// Of a relief the sheet never touched: nothing formed.
Finding untouched_relief(const imprint::ReliefSpec& spec, std::optional<mesh::Vec3> middle_m,
                         std::optional<double> min_capture);
/// Of one without a number, for the reason given: in doubt.
Finding unanswered_relief(const imprint::ReliefSpec& spec, std::optional<mesh::Vec3> middle_m,
                          std::optional<double> min_capture, std::string why, std::string advice);

}  // namespace pellicle::checks
