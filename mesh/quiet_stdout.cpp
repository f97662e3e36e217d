// How is a library kept from printing into what the program says?
#include "mesh/quiet_stdout.h"

#include <unistd.h>

#include <iostream>

namespace pellicle::mesh {
namespace {

constexpr std::size_t kMostShown = 4096;

void flush_all() {
  std::cout.flush();
  std::fflush(stdout);
}

}  // namespace

QuietStdout::QuietStdout() : caught_(std::tmpfile()) {
  flush_all();
  if (caught_ == nullptr) return;
  before_ = ::dup(STDOUT_FILENO);
  if (before_ >= 0) ::dup2(::fileno(caught_), STDOUT_FILENO);
}

QuietStdout::~QuietStdout() {
  flush_all();
  if (before_ >= 0) {
    ::dup2(before_, STDOUT_FILENO);
    ::close(before_);
  }
  if (caught_ != nullptr) std::fclose(caught_);
}

std::string QuietStdout::printed() const {
  flush_all();
  if (caught_ == nullptr) return {};
  std::string text(kMostShown, '\0');
  const ::ssize_t size = ::pread(::fileno(caught_), text.data(), text.size(), 0);
  text.resize(size > 0 ? static_cast<std::size_t>(size) : 0);
  return text;
}

}  // namespace pellicle::mesh
