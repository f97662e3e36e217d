// Does the program give the known answers on this machine? Writes each problem as a case, runs it as `run` does,
// judges.
#pragma once

#include "io/verify/problem.h"

#include <filesystem>
#include <string>

namespace pellicle::verify {

struct Verdict {
  std::string problem, title;
  int elements;
  std::int64_t steps;
  double seconds;
  std::vector<Check> checks;
};

/// Writes case.toml and mould.stl into the folder (made if need be), reads them back as a user's, runs with the
/// defaults and judges the result. Throws Error as `run` does.
Verdict run_problem(const Problem& problem, const std::filesystem::path& folder, int threads,
                    const forming::Sinks& sinks);

}  // namespace pellicle::verify
