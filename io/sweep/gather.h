// What came out of each case of a sweep? Findings, captures and seconds side by side, as a table and as JSON.
#pragma once

#include "io/results/stored_run.h"
#include "io/sweep/sweep_folder.h"
#include "solver/checks/finding.h"

#include <string>
#include <vector>

namespace pellicle::sweep {

/// One case. Without results the rest is empty.
struct Row {
  Entry entry;
  CaseState state;
  double seconds;  ///< over all its legs; NaN without results
  std::vector<checks::Finding> findings{};
  std::vector<results::StoredRelief> reliefs{};
};

struct Gathered {
  Manifest manifest;
  std::vector<Row> rows;  ///< one a case, in their order
};

/// Reads state.json and summary.json of every case; what is not there yet is left out. Throws Error (case) for a
/// summary.json that is none.
Gathered gather(const SweepFolder& folder);

/// sweep.csv: a row a case; columns as in docs/result_format.md. What a case does not answer is an empty field.
std::string gathered_csv(const Gathered& gathered);
/// The same for `--json`.
std::string gathered_json(const Gathered& gathered);

/// Ids of all findings in the order in which they come first.
std::vector<std::string> finding_ids(const Gathered& gathered);
/// Null if the case does not answer it.
const checks::Finding* find_finding(const Row& row, const std::string& id);

}  // namespace pellicle::sweep
