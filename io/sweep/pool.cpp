// How are several programs run side by side?
#include "io/sweep/pool.h"

#include "mesh/check.h"

#include <fcntl.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <chrono>
#include <csignal>
#include <system_error>
#include <thread>

namespace pellicle::sweep {
namespace {

struct Child {
  pid_t process;
  std::size_t job;
};

/// In the child: nothing here may allocate or throw.
[[noreturn]] void become(char* const* arguments, int log, int nothing, pid_t parent) {
  constexpr int kNotStarted = 127;  // as shells say
  ::setpgid(0, 0);
  // A pool that is killed cannot tell its children; the kernel does.
  if (::prctl(PR_SET_PDEATHSIG, SIGTERM) != 0 || ::getppid() != parent) ::_exit(kNotStarted);
  ::dup2(nothing, 0);
  ::dup2(log, 1);
  ::dup2(log, 2);
  ::execv("/proc/self/exe", arguments);
  ::_exit(kNotStarted);
}

[[noreturn]] void refuse(const std::string& where, int error_number) {
  throw Error({Fault::Kind::kMachine, where, std::generic_category().message(error_number),
               "room for one more process and its log", "give the same command again: what is done stays done"});
}

pid_t start(const Job& job) {
  std::vector<std::string> words{"pellicle"};
  words.insert(words.end(), job.arguments.begin(), job.arguments.end());
  std::vector<char*> arguments;
  for (std::string& word : words) arguments.push_back(word.data());
  arguments.push_back(nullptr);
  const int log = ::open(job.log.c_str(), O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC | O_NOFOLLOW, 0644);
  if (log < 0) refuse(job.log.string(), errno);
  const int nothing = ::open("/dev/null", O_RDONLY | O_CLOEXEC);
  const pid_t parent = ::getpid(), child = ::fork();
  if (child == 0) become(arguments.data(), log, nothing, parent);
  const int failed = errno;
  ::close(log);
  ::close(nothing);
  if (child < 0) refuse("a new process", failed);
  return child;
}

/// Whether the child has ended, and how.
bool has_ended(const Child& child, Ending& ending) {
  int status = 0;
  if (::waitpid(child.process, &status, WNOHANG) != child.process) return false;
  if (WIFSIGNALED(status))
    ending.signal = WTERMSIG(status);
  else
    ending.exit_code = WEXITSTATUS(status);
  return true;
}

}  // namespace

void run_pool(const std::vector<Job>& jobs, int at_once, const PoolSinks& sinks) {
  constexpr auto kLook = std::chrono::milliseconds(20);
  std::vector<Child> children;
  std::size_t next = 0;
  bool stopping = false;
  const auto tell_all = [&] {
    for (const Child& child : children) ::kill(child.process, SIGTERM);
  };
  const auto gather_ended = [&] {
    for (auto child = children.begin(); child != children.end();) {
      Ending ending;
      if (!has_ended(*child, ending)) {
        ++child;
        continue;
      }
      const std::size_t job = child->job;
      child = children.erase(child);
      sinks.ended(job, ending);
    }
  };
  while (!children.empty() || (next < jobs.size() && !stopping)) {
    if (!stopping && sinks.stop()) {
      stopping = true;
      tell_all();
    }
    while (!stopping && next < jobs.size() && children.size() < static_cast<std::size_t>(at_once)) {
      children.push_back({start(jobs[next]), next});
      sinks.started(next++);
    }
    gather_ended();
    if (!children.empty()) std::this_thread::sleep_for(kLook);
  }
}

}  // namespace pellicle::sweep
