// How does a command on a case end? Relief files, summary.json, the words on the terminal, the exit code.
#pragma once

#include "io/case/parse.h"
#include "io/commands/commands.h"
#include "io/report/recording.h"
#include "io/results/result_folder.h"
#include "io/results/summary.h"

namespace pellicle::commands {

/// Writes what is answered, the page on it, and the case, and prints it as the options ask; a checkpoint of before is
/// removed. `recording` is empty where nothing was formed, `mould` null without a mould surface. Returns the exit code:
/// 0, or with `strict` 5 where a limit of the case is broken.
int give_answers(const RunOptions& options, const cases::ParsedCase& parsed, results::Summary& summary,
                 const report::Recording& recording, const mesh::TriangleMesh* mould, results::ResultFolder& folder);

}  // namespace pellicle::commands
