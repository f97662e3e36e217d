// What does it cost the membrane that its layers have temperatures and remember?
#pragma once

#include <string>
#include <vector>

namespace pellicle {

/// A run of steps: the membrane pass in each, and what heat makes of its elements once in so many.
struct HeatCost {
  std::string what;
  double wanted_ratio;  ///< to the pass alone, at most
  int elements;
  std::vector<double> ns_per_step;  ///< an element and step, a repetition each
};

/// The pass alone, with layers but no modes, and with four modes; the same sheet, one thread. Layers are looked at and
/// brought up to date as often as the forming loop does on this sheet.
std::vector<HeatCost> time_heat(int repetitions);

}  // namespace pellicle
