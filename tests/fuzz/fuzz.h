// What may a reader do with bytes from anywhere? Return, or throw Error. Anything else ends the fuzz run.
#pragma once

#include "mesh/check.h"

#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string>
#include <string_view>

namespace pellicle::fuzz {

/// Calls read(bytes) and holds it to its promise: facets of finite coordinates, or an Error of geometry.
template <class Read>
int hold_to_promise(const std::uint8_t* data, std::size_t size, const Read& read) {
  try {
    for (const auto& facet : read(std::string_view(reinterpret_cast<const char*>(data), size)))
      for (const auto& corner : facet)
        if (!corner.allFinite()) std::abort();
  } catch (const Error& error) {
    if (error.fault().kind != Fault::Kind::kGeometry || error.fault().found.empty()) std::abort();
  }
  return 0;
}

}  // namespace pellicle::fuzz
