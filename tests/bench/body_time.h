// How long does a million cells of a printed mould take, pressed and warmed, and how much memory?
#pragma once

#include <string>
#include <vector>

namespace pellicle {

struct BodyRun {
  std::string what;
  int threads;
  double seconds;
  double processor_s;  ///< of all threads: what a busy machine disturbs least
  double wanted_s;     ///< at most, on two threads
  double memory_MB;    ///< the most ever in use by then
};

/// A hollow box of about a million cells with material under 4 bar on lid and sides, then its heat to the periodic
/// state, on the same cells. One run each, on two threads. What ran before in this process must have taken less memory.
std::vector<BodyRun> time_body();

}  // namespace pellicle
