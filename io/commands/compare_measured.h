// How far off is the predicted wall from the measured one, and what would explain it?
#pragma once

#include "io/commands/commands.h"

namespace pellicle::commands {

/// `other` is a table of measured walls.
int compare_measured(const CompareOptions& options);

}  // namespace pellicle::commands
