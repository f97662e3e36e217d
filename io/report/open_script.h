// How is a result opened in the viewer? A script for ParaView, with the file names and ranges of this result in it.
#pragma once

#include "io/report/page.h"

#include <string>

namespace pellicle::report {

/// Text of open.py. Opens with results::kOpenScriptStart, by which an earlier one is known.
std::string open_script(const PageInput& input);

}  // namespace pellicle::report
