// What stands on the manual page? The command line as the program reads it, the files, and what to take care of.
#pragma once

#include "io/guide/command_help.h"

#include <string>

namespace pellicle::guide {

/// pellicle.1 in the man macros of roff (groff_man(7)), ASCII.
std::string manual_page(const ProgramHelp& help);

}  // namespace pellicle::guide
