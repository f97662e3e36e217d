// What does a person who waits see? How far, at what pressure, how thin, and how long still.
#include "io/commands/progress.h"

#include <fmt/format.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <string_view>

namespace pellicle::commands {
namespace {

constexpr double kRenew_s = 0.2;       ///< faster cannot be read
constexpr double kPlainEvery_s = 2.0;  ///< a short run writes no lines into a log
constexpr double kPlainShare = 0.1;    ///< and a long one ten
constexpr double kFirstGuess_s = 1.0;  ///< before that the time that remains is a guess

/// `began`: what was done when the time began to count, of a run that is gone on with.
std::string sentence(const forming::Progress& p, double elapsed_s, double began) {
  std::string line =
      fmt::format("{:3.0f} %  {}  {:.2f} bar  thinnest {:.3f} mm  touching {:.0f} %", std::floor(100.0 * p.share_done),
                  p.stage, 1e-5 * p.pressure_Pa, 1e3 * p.min_thickness_m, 100.0 * p.contact_share);
  if (elapsed_s > kFirstGuess_s && p.share_done > began) {
    line += fmt::format("  {} left", duration_in_words(elapsed_s * (1.0 - p.share_done) / (p.share_done - began)));
  }
  return line;
}

/// Cuts after so many columns, between characters.
std::string cut(const std::string& line, int width) {
  int used = 0;
  for (std::size_t i = 0; i < line.size(); ++i) {
    if ((line[i] & 0xC0) != 0x80 && used++ == width) return line.substr(0, i);
  }
  return line;
}

}  // namespace

Terminal look_at(int descriptor) {
  const char* const term = std::getenv("TERM");
  const char* const no_colour = std::getenv("NO_COLOR");
  Terminal terminal;
  terminal.is_terminal =
      ::isatty(descriptor) == 1 && term != nullptr && *term != '\0' && std::string_view(term) != "dumb";
  terminal.colour = terminal.is_terminal && (no_colour == nullptr || *no_colour == '\0');
  winsize size{};
  if (terminal.is_terminal && ::ioctl(descriptor, TIOCGWINSZ, &size) == 0 && size.ws_col > 0) {
    terminal.width = size.ws_col;
  }
  return terminal;
}

std::string duration_in_words(double seconds) {
  const auto whole = static_cast<long>(std::ceil(std::fmin(std::fmax(seconds, 0.0), 1e9)));
  if (whole < 60) return fmt::format("{} s", whole);
  if (whole < 3600) return fmt::format("{} min {:02} s", whole / 60, whole % 60);
  return fmt::format("{} h {:02} min", whole / 3600, whole % 3600 / 60);
}

ProgressLine::ProgressLine(bool quiet) : quiet_(quiet), terminal_(look_at(2)), start_(Clock::now()), last_(start_) {}

void ProgressLine::show(const forming::Progress& progress) {
  if (quiet_) return;
  const auto now = Clock::now();
  const double since_s = std::chrono::duration<double>(now - last_).count();
  if (!began_) began_ = progress.share_done;
  const std::string line = sentence(progress, std::chrono::duration<double>(now - start_).count(), *began_);
  if (terminal_.is_terminal) {
    if (is_shown_ && since_s < kRenew_s) return;
    fmt::print(stderr, "\r{}\x1b[K", cut(line, terminal_.width - 1));
    is_shown_ = true;
  } else {
    if (since_s < kPlainEvery_s || progress.share_done < last_share_ + kPlainShare) return;
    fmt::print(stderr, "{}\n", line);
    last_share_ = progress.share_done;
  }
  std::fflush(stderr);
  last_ = now;
}

void ProgressLine::show(const std::string& task) {
  if (quiet_) return;
  if (terminal_.is_terminal) {
    fmt::print(stderr, "\r{}\x1b[K", cut(task, terminal_.width - 1));
    is_shown_ = true;
  } else {
    fmt::print(stderr, "{}\n", task);
  }
  std::fflush(stderr);
}

void ProgressLine::clear() {
  if (is_shown_) {
    fmt::print(stderr, "\r\x1b[K");
    std::fflush(stderr);
  }
  is_shown_ = false;
}

}  // namespace pellicle::commands
