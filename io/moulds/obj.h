// What triangles does a Wavefront OBJ file hold? Points and faces of any number of corners, in the numbers of the file.
#pragma once

#include "io/moulds/facet.h"

#include <string>
#include <string_view>

namespace pellicle::moulds {

/// Reads the text of a file: v and f; normals, texture, groups and materials change no shape and are passed over,
/// points, lines and curves with a note. Throws Error (geometry) with the line; `name` is what to call the file.
FacetContent read_obj(std::string_view text, const std::string& name);

}  // namespace pellicle::moulds
