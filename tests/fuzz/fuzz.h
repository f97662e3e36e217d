// What may a reader do with bytes from anywhere? Return, or throw Error. Anything else ends the fuzz run.
#pragma once

#include "mesh/check.h"

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string>
#include <string_view>

namespace pellicle::fuzz {

/// Calls read(bytes) and holds it to its promise: facets of finite coordinates, or an Error of geometry
/// in one line.
template <class Read>
int hold_to_promise(const std::uint8_t* data, std::size_t size, const Read& read) {
  try {
    for (const auto& facet : read(std::string_view(reinterpret_cast<const char*>(data), size)))
      for (const auto& corner : facet)
        if (!corner.allFinite()) std::abort();
  } catch (const Error& error) {
    // The message goes to a terminal: one line, and nothing in it that a terminal would obey.
    const std::string_view said = error.what();
    const auto steers = [](char c) { return static_cast<unsigned char>(c) < 0x20U || c == 0x7F; };
    if (error.fault().kind != Fault::Kind::kGeometry || error.fault().found.empty() || said.size() > 2000 ||
        std::any_of(said.begin(), said.end(), steers))
      std::abort();
  }
  return 0;
}

}  // namespace pellicle::fuzz
