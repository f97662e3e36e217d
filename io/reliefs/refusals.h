// What does every source of a relief say when it says no, and what does none of them make?
#pragma once

#include "mesh/check.h"

#include <cstdint>
#include <string>
#include <utility>

namespace pellicle::reliefs {

constexpr std::int64_t kMostCells = 16'000'000;  // 128 MB of heights; a patch of 80 mm at 0.02 mm
constexpr int kFewestCells = 4;                  // along x: fewer and the press has no wave to work with

/// A file with a shape in it is to blame (exit 3, as with mould files).
[[noreturn]] inline void refuse_shape(std::string where, std::string found, std::string allowed,
                                      std::string advice = {}) {
  throw Error({.kind = Fault::Kind::kGeometry,
               .where = std::move(where),
               .found = std::move(found),
               .allowed = std::move(allowed),
               .advice = std::move(advice)});
}

/// What the case asks for is to blame (exit 2).
[[noreturn]] inline void refuse_wish(std::string where, std::string found, std::string allowed,
                                     std::string advice = {}) {
  throw Error({.kind = Fault::Kind::kCase,
               .where = std::move(where),
               .found = std::move(found),
               .allowed = std::move(allowed),
               .advice = std::move(advice)});
}

}  // namespace pellicle::reliefs
