// How does a command on a case end? Relief files, summary.json, the words on the terminal, the exit code.
#pragma once

#include "io/case/parse.h"
#include "io/commands/commands.h"
#include "io/results/result_folder.h"
#include "io/results/summary.h"

namespace pellicle::commands {

/// Writes what is answered, and the case, and prints it as the options ask; a checkpoint of before is removed. Returns
/// the exit code: 0, or with `strict` 5 where a limit of the case is broken.
int give_answers(const RunOptions& options, const cases::ParsedCase& parsed, results::Summary& summary,
                 results::ResultFolder& folder);

}  // namespace pellicle::commands
