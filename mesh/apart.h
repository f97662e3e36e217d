// How is a library that may crash or take all memory kept from doing so to the program? It works in a process of its
// own.
#pragma once

#include <cstdint>
#include <functional>
#include <string>

namespace pellicle::mesh {

/// What the copy may take.
struct Allowance {
  std::uint64_t memory_bytes;
  unsigned seconds;  ///< of a processor
};

/// Runs `work` in a copy of this process, within the allowance, and returns what it returns. An Error
/// it throws is thrown here; if it crashes, or throws anything else, that is an Error (geometry) about `where`. The
/// copy has this thread only, and what it changes is forgotten.
std::string run_apart(const std::string& where, const Allowance& allowance, const std::function<std::string()>& work);

}  // namespace pellicle::mesh
