// How are several programs run side by side? A pool of child processes; none outlives it.
#pragma once

#include <filesystem>
#include <functional>
#include <string>
#include <vector>

namespace pellicle::sweep {

/// One child: this very program with other arguments.
struct Job {
  std::vector<std::string> arguments;  ///< without the program's name
  std::filesystem::path log;           ///< stdout and stderr are added to it
};

/// How a child ended: an exit code, or the signal that ended it.
struct Ending {
  int exit_code = 0;
  int signal = 0;
};

struct PoolSinks {
  std::function<void(std::size_t)> started = [](std::size_t) {};  ///< number of the job in the list
  std::function<void(std::size_t, Ending)> ended = [](std::size_t, Ending) {};
  std::function<bool()> stop = [] { return false; };
};

/// Runs all, at most `at_once` at a time, in their order. When `stop` says so, each child gets one SIGTERM, no other is
/// started, and those that run are waited for. If this process is killed, the system sends each child a SIGTERM.
/// Children are in process groups of their own: Ctrl-C reaches this process alone. Throws Error (machine) if a child
/// cannot be started.
void run_pool(const std::vector<Job>& jobs, int at_once, const PoolSinks& sinks);

}  // namespace pellicle::sweep
