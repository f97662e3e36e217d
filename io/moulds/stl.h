// What triangles does an STL file hold? Binary and ASCII, in the numbers of the file, trusted in nothing.
#pragma once

#include "io/moulds/facet.h"
#include "mesh/triangle_mesh.h"

#include <string>
#include <string_view>
#include <vector>

namespace pellicle::moulds {

struct StlContent {
  bool is_binary = true;
  std::vector<Facet> facets;
  std::vector<std::string> notes;  ///< remarks that are no errors
};

/// Reads the bytes of a file. Sizes and counts are checked against the bytes at hand before memory is taken.
/// Throws Error (geometry) with facet or line; `name` is what to call the file.
StlContent read_stl(std::string_view bytes, const std::string& name);

/// A mesh as a binary STL file in millimetres. `header`: its first words, at most 80 bytes, not "solid".
std::string stl_bytes(const mesh::TriangleMesh& mesh, std::string_view header = {});

}  // namespace pellicle::moulds
