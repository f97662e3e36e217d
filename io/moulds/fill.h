// Which holes of a surface can be closed, so that no sheet slips in?
#pragma once

#include "mesh/inspect.h"

#include <optional>

namespace pellicle::moulds {

struct Filled {
  mesh::TriangleMesh mesh;              ///< the surface, then the triangles that close its holes
  int closed = 0;                       ///< rims
  std::optional<mesh::Vec3> open_at_m;  ///< the middle of the longest rim that stays open
};

/// Closes the rims of every body that is a solid with pieces missing: closed, its volume is above zero. A rim stays
/// open if it is no simple loop or too long to be cut into triangles, and so do all if what closes them would cut
/// through the surface: a mould that is one curved sheet stays one. `inspection` is of this very surface, which is
/// consistently turned.
Filled fill_holes(const mesh::TriangleMesh& surface, const mesh::Inspection& inspection);

}  // namespace pellicle::moulds
