// How long does it take to look at a mould, and how much memory?
#pragma once

#include <string>
#include <vector>

namespace pellicle {

struct MouldRun {
  std::string what;
  int threads;
  double seconds;
  double processor_s;  ///< of all threads: what a busy machine disturbs least
  double memory_MB;    ///< by which the most ever in use has grown
};

struct MouldLook {
  int triangles = 0;
  std::vector<MouldRun> runs;  ///< the first builds the tree; each is timed once
  // A sheet of 2 mm, refined to 1 mm, drawn and pressed over it, on one thread; some times.
  std::vector<double> contact_s;  ///< lines `edges` and `mould`, less what the latter costs without a mould
  std::vector<double> membrane_s, loop_s;
  double penetration = 0.0;  ///< deepest in the end, of the thickness
  long long steps = 0;
  bool ended = false;
};

/// A sound block with two million triangles. What ran before in this process must have taken less memory.
MouldLook time_mould_look();

}  // namespace pellicle
