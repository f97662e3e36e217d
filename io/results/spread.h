// How are the bands of the answers told? On the terminal and in summary.json.
#pragma once

#include "io/results/json.h"
#include "solver/spread.h"

#include <string>
#include <vector>

namespace pellicle::results {

/// "0.31 to 0.42": three digits.
std::string band_text(const checks::Band& band);

/// "gauge of the sheet, pressure": who moves it most, and who besides.
std::string moved_text(const checks::Band& band);

/// A number that was varied, and how many answers and limits it moves most. Points into the report.
struct Mover {
  const SpreadReport::Number* number;
  int moves;
};
/// All that were varied, those first that move most answers: what to measure first.
std::vector<Mover> movers(const CaseResult& result, const SpreadReport& report);

/// "formed anew 23 times with elements of 3 mm, ...": what was done, without a full stop.
std::string done_text(const SpreadReport& report);

/// The answers with a band as a table in their order, and what the bands rest on. At most `width` columns where words
/// can be broken.
std::string spread_text(const CaseResult& result, const SpreadReport& report, int width);

/// The key `spread` and its object.
void add_spread(Json& json, const SpreadReport& report);
/// Keys `low`, `high`, `moved_too` of an answer, with `prefix` in front, and `moved_by` as named.
void add_band(Json& json, const checks::Band& band, const std::string& prefix = {},
              const std::string& moved_by = "moved_by");

}  // namespace pellicle::results
