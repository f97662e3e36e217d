// How are the bands of the answers told? On the terminal and in summary.json.
#pragma once

#include "io/results/json.h"
#include "solver/spread.h"

#include <string>

namespace pellicle::results {

/// "0.31 to 0.42": three digits.
std::string band_text(const checks::Band& band);

/// The answers with a band as a table, most uncertain first in no order but theirs, and what the bands rest on. At most
/// `width` columns where words can be broken.
std::string spread_text(const CaseResult& result, const SpreadReport& report, int width);

/// The key `spread` and its object.
void add_spread(Json& json, const SpreadReport& report);
/// Keys `low`, `high`, `moved_by` of an answer; with `prefix` in front of the first two.
void add_band(Json& json, const checks::Band& band, const std::string& prefix = {});

}  // namespace pellicle::results
