// How is a library kept from printing into what the program says? Its standard output is caught while it works.
#pragma once

#include <cstdio>
#include <string>

namespace pellicle::mesh {

/// Standard output goes to a file without a name until the end of the block. One at a time, and only while no other
/// thread prints: the redirection is the whole process's. If the system refuses it, printing stays as it is.
class QuietStdout {
 public:
  QuietStdout();
  ~QuietStdout();
  QuietStdout(const QuietStdout&) = delete;
  QuietStdout& operator=(const QuietStdout&) = delete;

  /// The first part of what was printed so far.
  std::string printed() const;

 private:
  std::FILE* caught_ = nullptr;
  int before_ = -1;
};

}  // namespace pellicle::mesh
