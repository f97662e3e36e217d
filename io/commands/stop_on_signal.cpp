// Has someone asked the program to stop?
#include "io/commands/stop_on_signal.h"

namespace pellicle::commands {
namespace {

/// A signal handler reaches nothing but a static: the one flag that may be one.
volatile std::sig_atomic_t stop_asked = 0;

extern "C" void ask_to_stop(int) {
  stop_asked = 1;
  // A second Ctrl-C does what it always did: end the program at once. Queues of jobs send their signals to a script and
  // to its children, which passes them on: of those more than one must do no harm.
  std::signal(SIGINT, SIG_DFL);
}

}  // namespace

StopOnSignal::StopOnSignal() {
  stop_asked = 0;
  for (std::size_t i = 0; i < kSignals.size(); ++i) {
    before_[i] = std::signal(kSignals[i], ask_to_stop);
    if (before_[i] == SIG_IGN) std::signal(kSignals[i], SIG_IGN);
  }
}

StopOnSignal::~StopOnSignal() {
  for (std::size_t i = 0; i < kSignals.size(); ++i) {
    if (before_[i] != SIG_ERR) std::signal(kSignals[i], before_[i]);
  }
}

bool StopOnSignal::asked() { return stop_asked != 0; }

}  // namespace pellicle::commands
