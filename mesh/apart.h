// How is a library that may crash or take all memory kept from doing so to the program? It works in a process of its
// own.
#pragma once

#include <cstdint>
#include <functional>
#include <string>

namespace pellicle::mesh {

/// Runs `work` in a copy of this process, which may take `most_bytes` of memory, and returns what it returns. An Error
/// it throws is thrown here; if it crashes, or throws anything else, that is an Error (geometry) about `where`. The
/// copy has this thread only, and what it changes is forgotten.
std::string run_apart(const std::string& where, std::uint64_t most_bytes, const std::function<std::string()>& work);

}  // namespace pellicle::mesh
