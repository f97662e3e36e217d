// What does every reader of mould files hand over, and what does none of them take?
#pragma once

#include "mesh/check.h"
#include "mesh/triangle_mesh.h"

#include <array>
#include <cmath>
#include <cstddef>
#include <string>
#include <utility>
#include <vector>

namespace pellicle::moulds {

/// Three corners as the file gives them; a file's own normals are not read (the order of the corners counts).
using Facet = std::array<mesh::Vec3, 3>;

/// What a file of points and polygons holds.
struct FacetContent {
  std::string format;  ///< "Wavefront OBJ"
  std::vector<Facet> facets;
  std::vector<std::string> notes;  ///< remarks that are no errors
};

constexpr std::size_t kMostFacets = 20'000'000;  // 3 corners each still number in an int; 1.4 GB in memory
constexpr std::size_t kMostPoints = 20'000'000;  // a closed surface has half as many points as facets
constexpr double kLargestCoordinate = 1e30;      // in any unit; keeps later squares and products finite

inline bool is_sane(double coordinate) { return std::fabs(coordinate) <= kLargestCoordinate; }  // false for NaN

constexpr const char* kExportAgain = "Export the mould again; a broken download or a full disk cuts files short";

[[noreturn]] inline void refuse(std::string where, std::string found, std::string allowed, std::string advice = {}) {
  throw Error({.kind = Fault::Kind::kGeometry,
               .where = std::move(where),
               .found = std::move(found),
               .allowed = std::move(allowed),
               .advice = std::move(advice)});
}

}  // namespace pellicle::moulds
