// What can a person do next who typed the program's name and no more? It depends on what lies in the folder.
#pragma once

#include <filesystem>
#include <string>

namespace pellicle::guide {

/// Several lines: the way from a drawing to a decision, with the names of what is found in the folder: an interrupted
/// run first, then a finished one, a sweep that was begun, a case, a case with [[vary]]; the first of each kind by
/// name. In the folder of a sweep its cases are not offered. A folder that cannot be read counts as an empty one.
std::string next_steps(const std::filesystem::path& folder);

}  // namespace pellicle::guide
