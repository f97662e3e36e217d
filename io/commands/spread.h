// How do the answers of a run get their bands? The case is run again, quietly, as often as there are numbers in doubt.
#pragma once

#include "io/commands/progress.h"
#include "io/results/summary.h"

namespace pellicle::commands {

/// Puts bands on the answers in `summary`, those of `c`, and tells on `line` what is being run. Adds warnings for side
/// runs that failed. Stopped by a signal it leaves the answers without bands and says so; then false.
bool spread_answers(const Case& c, const Geometry& geometry, ProgressLine& line, results::Summary& summary);

}  // namespace pellicle::commands
