// What can a person do next who typed the program's name and no more? It depends on what lies in the folder.
#include "io/guide/next_steps.h"

#include "io/case/document.h"
#include "io/guide/shell_word.h"
#include "io/results/result_folder.h"
#include "io/sweep/manifest.h"
#include "mesh/check.h"

#include <fmt/format.h>

#include <algorithm>
#include <string_view>
#include <system_error>
#include <utility>
#include <vector>

namespace pellicle::guide {
namespace {

namespace fs = std::filesystem;

struct Found {
  std::string interrupted, finished, sweep, new_case, new_sweep;  ///< names of folders; empty: none
  std::string sweep_case;                                         ///< the case file that `sweep` was begun from
  bool has_sweep_page = false;
};

bool holds(const fs::path& folder, const char* file) {
  std::error_code ignored;
  return fs::is_regular_file(folder / file, ignored);
}

/// Of a file that cannot be read: empty.
std::string text_of(const fs::path& file) {
  try {
    return results::read_file(file);
  } catch (const Error&) {
    return "";
  }
}

/// A case with mistakes is no sweep here: `check` tells what is wrong with it.
bool asks_for_a_sweep(const fs::path& case_file) {
  try {
    return cases::parse_document(text_of(case_file), case_file.string()).find("vary") != nullptr;
  } catch (const Error&) {
    return false;
  }
}

/// Whether it is the folder of a sweep; others have files of that name too.
bool take_sweep(const fs::path& folder, const std::string& name, Found& found) {
  if (!holds(folder, "manifest.json")) return false;
  const auto manifest = sweep::read_manifest(text_of(folder / "manifest.json"));
  if (manifest && found.sweep.empty()) {
    found.sweep = name;
    found.sweep_case = manifest->case_file;
    found.has_sweep_page = holds(folder, "sweep.html");
  }
  return manifest.has_value();
}

void take(const fs::path& folder, const std::string& name, Found& found) {
  const auto first = [&](std::string& kept) {
    if (kept.empty()) kept = name;
  };
  if (holds(folder, "checkpoint.h5")) return first(found.interrupted);
  if (holds(folder, "report.html") && holds(folder, "summary.json")) return first(found.finished);
  if (holds(folder, "case.toml")) first(asks_for_a_sweep(folder / "case.toml") ? found.new_sweep : found.new_case);
}

Found look(const fs::path& folder) {
  std::vector<std::string> names;
  std::error_code error;
  for (fs::directory_iterator at(folder, error), end; !error && at != end; at.increment(error)) {
    std::error_code ignored;
    if (at->is_directory(ignored)) names.push_back(at->path().filename().string());
  }
  std::sort(names.begin(), names.end());
  Found found;
  if (take_sweep(folder, ".", found)) return found;  // the folders in it are the sweep's, not cases to go on with
  take(folder, ".", found);
  for (const std::string& name : names)
    if (!take_sweep(folder / name, name, found)) take(folder / name, name, found);
  return found;
}

using Steps = std::vector<std::pair<std::string, std::string>>;  // command, what it is for

std::string table(const Steps& steps) {
  std::size_t width = 0;
  for (const auto& [command, text] : steps) width = std::max(width, command.size());
  std::string out;
  for (const auto& [command, text] : steps) out += fmt::format("  {:<{}}  {}\n", command, width, text);
  return out;
}

Steps steps_here(const Found& found) {
  Steps steps;
  if (!found.interrupted.empty())
    steps.emplace_back("pellicle resume " + shell_word(found.interrupted), "go on with the run that was interrupted");
  if (!found.finished.empty()) {
    steps.emplace_back("xdg-open " + shell_word(found.finished + "/report.html"), "read the answer in a browser");
    steps.emplace_back("pellicle export " + shell_word(found.finished), "the part and the mould as STL");
  }
  if (!found.sweep.empty()) {
    if (found.has_sweep_page)
      steps.emplace_back("xdg-open " + shell_word(found.sweep + "/sweep.html"), "the cases of the sweep side by side");
    steps.emplace_back(fmt::format("pellicle sweep {} --out {}", shell_word(found.sweep_case), shell_word(found.sweep)),
                       "go on with the sweep; cases that are done stay");
  }
  if (!found.new_case.empty()) {
    steps.emplace_back("pellicle check " + shell_word(found.new_case), "what will be used, and how long it will take");
    steps.emplace_back("pellicle run " + shell_word(found.new_case), "form the sheet");
  }
  if (!found.new_sweep.empty())
    steps.emplace_back("pellicle sweep " + shell_word(found.new_sweep), "form every combination of its [[vary]]");
  return steps;
}

}  // namespace

std::string next_steps(const fs::path& folder) {
  const Steps here = steps_here(look(folder));
  std::string out;
  if (!here.empty()) out += "In this folder you can go on with\n" + table(here) + "\n";
  out += "From a drawing to a decision:\n" +
         table({{"pellicle new my-label", "a folder with a case to start from; put your own STL there"},
                {"pellicle check my-label", "what will be used, what is wrong with the mould, how long it will take"},
                {"pellicle run my-label", "form the sheet: the answer is my-label-results/report.html"},
                {"pellicle export my-label-results", "the part, and the mould enlarged by the shrinkage, as STL"}});
  return out + "\npellicle --help lists every command, pellicle COMMAND --help its options; man pellicle has both.\n";
}

}  // namespace pellicle::guide
