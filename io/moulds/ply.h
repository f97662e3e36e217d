// What triangles does a PLY file hold? ASCII and binary of both byte orders, in the numbers of the file.
#pragma once

#include "io/moulds/facet.h"

#include <string>
#include <string_view>

namespace pellicle::moulds {

/// Reads the bytes of a file: x, y, z of the vertices, and faces or triangle strips. Everything else is passed over by
/// its declared type. Counts are checked against the bytes at hand before memory is taken. Throws Error (geometry) with
/// line, vertex or face; `name` is what to call the file.
FacetContent read_ply(std::string_view bytes, const std::string& name);

}  // namespace pellicle::moulds
