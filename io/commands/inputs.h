// What do the commands on a case read before they start, and what do they warn of?
#pragma once

#include "io/case/parse.h"
#include "io/commands/progress.h"
#include "solver/run.h"

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace pellicle::commands {

/// Warnings are told once, as they come.
class Warnings {
 public:
  explicit Warnings(ProgressLine& line) : line_(line) {}
  void tell(const std::vector<std::string>& warnings);
  const std::vector<std::string>& told() const { return told_; }

 private:
  ProgressLine& line_;
  std::vector<std::string> told_;
};

/// Every file the case names, itself included.
std::vector<std::filesystem::path> input_files(const cases::ParsedCase& parsed);

/// Fills geometry.heater_map where the case names a map and follows heat; what to warn of. Throws Error for a map that
/// cannot be read.
std::vector<std::string> load_heater_map(const cases::ParsedCase& parsed, Geometry& geometry, std::string& bytes);

struct Inputs {
  Geometry geometry;
  std::optional<mesh::Vec3> open_at_m;  ///< where the mould is open
  std::string heater_file;              ///< bytes of the heater's map; empty: none, or heat is not followed
};
/// Mould and reliefs. Throws Error for what cannot be read or formed on, with its line.
Inputs read_inputs(const cases::ParsedCase& parsed, Warnings& warnings);

}  // namespace pellicle::commands
