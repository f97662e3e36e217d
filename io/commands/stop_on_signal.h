// Has someone asked the program to stop? Ctrl-C and SIGTERM, told at the next good place.
#pragma once

#include <array>
#include <csignal>
#include <cstddef>

namespace pellicle::commands {

inline constexpr int kInterrupted = 130;  ///< exit code

/// While it lives, the first SIGINT or SIGTERM asks for a stop; a second one ends the program at once. One that was
/// ignored (nohup) stays ignored. One at a time.
class StopOnSignal {
 public:
  StopOnSignal();
  StopOnSignal(const StopOnSignal&) = delete;
  StopOnSignal& operator=(const StopOnSignal&) = delete;
  ~StopOnSignal();
  static bool asked();

 private:
  static constexpr std::array<int, 2> kSignals{SIGINT, SIGTERM};
  std::array<void (*)(int), 2> before_{};
};

}  // namespace pellicle::commands
