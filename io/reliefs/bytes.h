// What stands in a file, if it is not too large?
#pragma once

#include <cstdint>
#include <filesystem>
#include <string>

namespace pellicle::reliefs {

/// Throws Error (geometry) naming the file if it is missing, no plain file, unreadable or larger than `most_bytes`.
std::string read_bytes(const std::filesystem::path& path, std::uintmax_t most_bytes);

}  // namespace pellicle::reliefs
