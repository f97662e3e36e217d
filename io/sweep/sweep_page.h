// Which case is the one to print? All cases of a sweep side by side, on one page that opens from disk, offline.
#pragma once

#include "io/sweep/gather.h"

#include <string>

namespace pellicle::sweep {

/// The HTML document, in the style of a single report, with links to these. It asks for nothing from outside.
std::string sweep_page(const Gathered& gathered);

}  // namespace pellicle::sweep
