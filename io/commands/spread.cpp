// How do the answers of a run get their bands? The case is run again, quietly, as often as there are numbers in doubt.
#include "io/commands/spread.h"

#include "io/commands/stop_on_signal.h"

#include <fmt/format.h>

namespace pellicle::commands {

bool spread_answers(const Case& c, const Geometry& geometry, ProgressLine& line, results::Summary& summary) {
  forming::Sinks quiet;
  quiet.stop = [] { return StopOnSignal::asked(); };
  const auto again = [&](const Case& other, Anew anew, const forming::Snapshot& formed) {
    return summary.reliefs_alone ? run_reliefs(other, geometry, quiet)
                                 : answer_again(other, geometry, anew, formed, quiet);
  };
  SpreadReport report = add_spread(
      c, again, [&](const std::string& task) { line.show(task); }, summary.result);
  line.clear();
  std::vector<std::string>& warnings = summary.result.warnings;
  if (report.stopped)
    warnings.push_back(
        fmt::format("the spread was stopped after {} of {} side runs: the answers stand without bands. "
                    "Run again with --spread for them",
                    report.side_runs, report.wanted));
  for (const std::string& failure : report.failures)
    warnings.push_back("a side run of the spread failed and counts for nothing, the bands are too narrow by it: " +
                       failure);
  for (const std::string& remark : report.remarks) warnings.push_back("spread: " + remark);
  const bool is_whole = !report.stopped;
  summary.spread = std::move(report);
  return is_whole;
}

}  // namespace pellicle::commands
