// How does Pellicle say no? One error type for everything a user can mend, thrown anywhere, caught once in main.
#pragma once

#include <stdexcept>
#include <string>
#include <utility>

namespace pellicle {

/// What a person at the bench needs in order to mend the problem. `kind` fixes the exit code.
struct Fault {
  enum class Kind { kMachine = 1, kCase = 2, kGeometry = 3, kSolution = 4 };  // kMachine: disk full and the like
  Kind kind = Kind::kCase;
  std::string where;    ///< "case.toml:12, sheet.thickness" or "marker.stl, facet 2711 at (3.1, 8.0, 4.2) mm"
  std::string found;    ///< "-0.75 mm"
  std::string allowed;  ///< "0.05 mm to 10 mm"
  std::string advice;   ///< "thickness is the sheet as bought, before forming"
};

/// The only exception type thrown on purpose. what() is the one message shown.
class Error : public std::runtime_error {
 public:
  explicit Error(Fault fault)
      : std::runtime_error(fault.where + ": found " + fault.found + "; allowed " + fault.allowed +
                           (fault.advice.empty() ? "" : ". " + fault.advice)),
        fault_(std::move(fault)) {}
  const Fault& fault() const { return fault_; }
  int exit_code() const { return static_cast<int>(fault_.kind); }

 private:
  Fault fault_;
};

/// A broken promise inside the program (exit code 1): never a user's mistake. Checked in every build.
inline void ensure(bool holds, const char* promise) {
  if (!holds) throw std::logic_error(std::string("internal promise broken: ") + promise);
}

}  // namespace pellicle
