// What does the Tab key offer? A script for the shell: commands, options, cases, results, tables.
#pragma once

#include "io/guide/command_help.h"

#include <string>

namespace pellicle::guide {

/// The script for bash. Folders are offered where a case or a result lies in them or where they lead on to others.
std::string bash_completion(const ProgramHelp& help);

/// The script for fish: the same, but any folder is offered.
std::string fish_completion(const ProgramHelp& help);

}  // namespace pellicle::guide
