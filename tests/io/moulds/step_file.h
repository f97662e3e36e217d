// Which STEP files do the tests read? Solids made with Open CASCADE, through Gmsh, and written as STEP.
#pragma once

#include "mesh/gmsh_session.h"
#include "mesh/quiet_stdout.h"

#include <gmsh.h>

#include <functional>
#include <string>

namespace pellicle::moulds {

/// `make` adds shapes to the model, in millimetres.
inline void write_step(const std::string& path, const std::function<void()>& make) {
  const mesh::QuietStdout quiet;  // the library reports what it writes
  mesh::GmshSession session;
  session.work([&] {
    gmsh::clear();
    make();
    gmsh::model::occ::synchronize();
    gmsh::write(path);
  });
}

}  // namespace pellicle::moulds
