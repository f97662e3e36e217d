// What does the command line take? One description of it, from which the manual page and the completion are made.
#pragma once

#include <string>
#include <vector>

namespace pellicle::guide {

/// One option or operand of a command.
struct ArgumentHelp {
  std::vector<std::string> names;  ///< "-h", "--help"; of an operand its one name, "CASE"
  std::string type;                ///< of its value: "TEXT", "INT:INT in [0 - 1024]"; empty: it takes none
  std::string means;
  bool is_required = false;
  bool repeats = false;
};

/// One command, or the program itself.
struct CommandHelp {
  std::string name;
  std::string means;
  std::vector<ArgumentHelp> operands;
  std::vector<ArgumentHelp> options;
};

struct ProgramHelp {
  CommandHelp program;  ///< its name, what it does, options that stand before a command
  std::vector<CommandHelp> commands;
  std::string exit_codes;  ///< in words
};

}  // namespace pellicle::guide
