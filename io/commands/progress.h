// What does a person who waits see? One line that renews itself on a terminal, a line now and then elsewhere.
#pragma once

#include "solver/forming/frame.h"

#include <chrono>
#include <optional>
#include <string>

namespace pellicle::commands {

/// What a stream is connected to.
struct Terminal {
  bool is_terminal = false;  ///< a person's, one that can move its cursor
  bool colour = false;       ///< and NO_COLOR is not set (no-color.org)
  int width = 100;           ///< columns
};
/// Looks at a file descriptor (1 = stdout, 2 = stderr), NO_COLOR and TERM.
Terminal look_at(int descriptor);

/// Writes to stderr.
class ProgressLine {
 public:
  explicit ProgressLine(bool quiet);
  ProgressLine(const ProgressLine&) = delete;
  ProgressLine& operator=(const ProgressLine&) = delete;
  ~ProgressLine() { clear(); }
  void show(const forming::Progress& progress);
  /// What else takes a while.
  void show(const std::string& task);
  /// Takes the line away, so that other words can be written.
  void clear();

 private:
  using Clock = std::chrono::steady_clock;
  bool quiet_;
  Terminal terminal_;
  Clock::time_point start_, last_;
  std::optional<double> began_;  ///< share done when the first words came
  double last_share_ = 0.0;
  bool is_shown_ = false;
};

/// "40 s", "3 min 20 s", "1 h 05 min".
std::string duration_in_words(double seconds);

}  // namespace pellicle::commands
