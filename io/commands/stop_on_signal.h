// Has someone asked the program to stop? Ctrl-C, SIGTERM and SIGUSR1, told at the next good place.
#pragma once

#include <array>
#include <csignal>
#include <cstddef>

namespace pellicle::commands {

inline constexpr int kInterrupted = 130;  ///< exit code

/// While it lives, SIGINT, SIGTERM or SIGUSR1 (queues of jobs send it before a time limit) asks for a stop; a SIGINT
/// after that ends the program at once. One that was ignored (nohup) stays ignored. One at a time.
class StopOnSignal {
 public:
  StopOnSignal();
  StopOnSignal(const StopOnSignal&) = delete;
  StopOnSignal& operator=(const StopOnSignal&) = delete;
  ~StopOnSignal();
  static bool asked();

 private:
  static constexpr std::array<int, 3> kSignals{SIGINT, SIGTERM, SIGUSR1};
  std::array<void (*)(int), 3> before_{};
};

}  // namespace pellicle::commands
