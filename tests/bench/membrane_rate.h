// How fast is the membrane pass against a plain loop, and against what the memory could give?
#pragma once

#include <string>
#include <vector>

namespace pellicle {

/// A pass over one sheet, again and again; everything in it moves.
struct RateRun {
  int elements;
  std::string law;
  int threads;
  bool plain;                         ///< the loop to compare with; else ours
  std::vector<double> updates_per_s;  ///< a repetition each
  double best_per_s;                  ///< of the fastest pass
};

struct MembraneRates {
  std::vector<RateRun> runs;  ///< for each sheet and law: plain on 1 thread, ours on 1, ours on 2
  double bytes_per_element;   ///< that our pass alone reads and writes at least, of the largest sheet
  double pass_per_s;          ///< our pass alone on it, neo-hookean, 1 thread: elements a second, best
  double memory_byte_s;       ///< of a triad too large for the caches, 1 thread, best
};

/// Forces, then v += f dt/m and x += v dt. The plain loop's forces are checked against ours.
MembraneRates time_membrane_rates(int repetitions);

}  // namespace pellicle
