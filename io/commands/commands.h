// What can the program be asked to do? One plain struct of options and one function a command; main fills and calls.
//
// Results go to stdout, progress and warnings to stderr. A command throws Error for what a user can mend and returns
// the exit code otherwise.
#pragma once

#include <filesystem>
#include <optional>

namespace pellicle::commands {

struct RunOptions {
  std::filesystem::path case_path;           ///< a .toml file or a folder with case.toml
  std::optional<std::filesystem::path> out;  ///< results folder; none: `<name>-results` in the working directory
  bool force = false;                        ///< replace earlier results of pellicle
  std::optional<int> threads;                ///< none: numerics.threads of the case
  bool json = false;                         ///< print exactly summary.json
  bool quiet = false;                        ///< no progress
  bool profile = false;                      ///< print the time of each line of the loop
  bool strict = false;                       ///< a broken limit of the case: exit 5
};
int run_command(const RunOptions& options);

struct CheckOptions {
  std::filesystem::path case_path;
  std::optional<std::filesystem::path> out;  ///< where defects would be written
  bool json = false;
  bool quiet = false;  ///< no warnings
};
int check_command(const CheckOptions& options);

struct SchemaOptions {
  enum class Form { kText, kMarkdown, kJson };
  Form form = Form::kText;
};
int schema_command(const SchemaOptions& options);

}  // namespace pellicle::commands
