// How long does the sheet over fine detail take to compute, and how much memory?
#pragma once

#include <string>
#include <vector>

namespace pellicle {

struct ImprintRun {
  std::string what;
  int threads;
  double seconds;
  double wanted_s;   ///< at most, on two threads
  double memory_MB;  ///< by which the most ever in use has grown
};

/// Presses of large patches, to a gap error of a micrometre, and single sections. One run each.
std::vector<ImprintRun> time_imprint();

}  // namespace pellicle
