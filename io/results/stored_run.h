// What does the results folder of a finished run say? Its case, answers, sheet and mould, read back together.
#pragma once

#include "io/case/parse.h"
#include "io/results/frames_stored.h"
#include "io/results/result_folder.h"
#include "solver/checks/finding.h"

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace pellicle::results {

/// Throws Error (case) unless a run formed a sheet there, came to its end and left its case.
void require_finished_run(const HeldFolder& folder);

struct StoredRelief {
  std::string name;
  double capture;  ///< share of its own depth; NaN: no answer
};
/// What summary.json says, as far as it is read back.
struct StoredSummary {
  std::string program_version;
  std::string title;
  double seconds;  ///< NaN: not told
  std::vector<checks::Finding> findings;
  std::vector<StoredRelief> reliefs;
};
/// From the results folder. Throws Error (case) if the file is none of ours or not whole.
StoredSummary read_summary(const std::filesystem::path& folder);

/// The folder's own name, also of "." and "results/".
std::string name_of(const std::filesystem::path& folder);

/// The case as run, read by this program. Throws Error (case) with its line: a case of another version may hold keys
/// that are not known here.
cases::ParsedCase read_case(const HeldFolder& folder);

/// As placed; nullopt if the case has none. Throws Error (case) if it has one and the folder does not.
std::optional<mesh::TriangleMesh> read_mould(const HeldFolder& folder, const cases::ParsedCase& parsed);

/// Bytes of the heater's map as the run read it; empty if the case has none, or the folder (of an older version) does
/// not.
std::string read_heater_file(const HeldFolder& folder, const cases::ParsedCase& parsed);

/// What an uneven heater left; nullopt if the case has none or heat is not followed. Throws Error (case) if it has one
/// and the folder does not.
std::optional<sheet::TemperatureMap> read_heater_map(const HeldFolder& folder, const cases::ParsedCase& parsed);

/// 1 for each node inside the part's trim, N.
std::vector<char> part_nodes(const StoredSheet& sheet, const std::optional<mesh::TriangleMesh>& mould, const Case& c);

}  // namespace pellicle::results
