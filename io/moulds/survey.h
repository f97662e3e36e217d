// Can a sheet be formed on this surface, and what about it should its maker know?
#pragma once

#include "io/moulds/load.h"
#include "mesh/check.h"
#include "mesh/inspect.h"
#include "mesh/visibility.h"

#include <optional>
#include <string>
#include <vector>

namespace pellicle::moulds {

/// One remark on a surface, in the user's words.
struct Remark {
  std::string found;  ///< "3 triangles that run against their neighbours"
  std::string place;  ///< "the first at (1.20, 0.00, 3.50) mm"
  std::string means;  ///< what it does, and what is done about it here
  std::string try_;   ///< what to do in the program that made the mould
};

/// What inspection and a look from above tell of a surface as placed. Triangles are numbered as read.
struct Survey {
  mesh::Inspection inspection;
  mesh::Visibility visibility;
  std::vector<Remark> remarks;               ///< it can be formed on in spite of them
  std::optional<Fault> fault;                ///< it cannot
  std::optional<mesh::Vec3> open_at_m;       ///< the middle of the longest rim, if one stays open
  std::optional<mesh::TriangleMesh> mended;  ///< triangles turned, doubles left out, holes closed

  /// Throws the fault, if there is one.
  void refuse_what_hinders() const {
    if (fault) throw Error(*fault);
  }
  /// Each remark as one sentence.
  std::vector<std::string> warnings(const SurfaceFile& file) const;
};

enum class Depth {
  kForARun,    ///< what a run must know
  kForAReport  ///< the thinnest wall and the narrowest slot too
};

/// `platform`: the mould stands on z = 0; else its lowest place is its base. Throws nothing: what hinders is in
/// `fault`.
Survey survey(const mesh::TriangleMesh& surface, bool platform, Depth depth);

/// "(1.20, 0.00, 3.50) mm"
std::string place_text(const mesh::Vec3& place_m);

}  // namespace pellicle::moulds
