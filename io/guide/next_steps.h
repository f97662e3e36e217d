// What can a person do next who typed the program's name and no more? It depends on what lies in the folder.
#pragma once

#include <filesystem>
#include <string>

namespace pellicle::guide {

/// Several lines: the way from a drawing to a decision, with the names of what is found in the folder: an interrupted
/// run first, then a finished one, then a case; the first of each kind by name. A folder that cannot be read counts as
/// an empty one.
std::string next_steps(const std::filesystem::path& folder);

}  // namespace pellicle::guide
