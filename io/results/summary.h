// What came out? The answers of one finished run, for a machine (summary.json) and for a person (the terminal).
#pragma once

#include "solver/run.h"
#include "solver/spread.h"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace pellicle::results {

/// One finished run as it is told.
struct Summary {
  std::string title;
  CaseResult result;
  Limits limits;                            ///< of the case: those that --strict counts
  std::vector<std::string> warnings;        ///< of the case, the geometry and the run, without doubles
  std::vector<std::string> not_used_yet;    ///< keys of the case without effect in this run
  bool has_mould_file = false;              ///< mould.xdmf stands beside sheet.xdmf
  bool reliefs_alone = false;               ///< nothing was formed: there is no sheet.xdmf
  std::optional<SpreadReport> spread = {};  ///< what the bands of the answers rest on; none: they were not asked for
};

/// Whether the limit of a finding is one the case gives. All others are ours or the trade's.
bool has_limit_of_case(const checks::Finding& finding, const Limits& limits);

/// What a key without effect in a run may wait for.
inline constexpr std::string_view kMissing =
    "heat asks for mould.temperature and mould.resin, the mould's body for mould.resin and mould.wall";

/// "pass", "doubt", "fail".
const char* verdict_word(checks::Verdict verdict);

/// The whole of summary.json.
std::string summary_json(const Summary& summary);

struct TextStyle {
  bool colour = false;
  int width = 100;  ///< columns
};
/// The report on the terminal.
std::string summary_text(const Summary& summary, const std::string& folder, TextStyle style);

/// The time of each line of the loop, as a table.
std::string profile_text(const std::vector<StageTime>& profile);

}  // namespace pellicle::results
