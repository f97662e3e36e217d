// How does a case become a sheet, a mould and a forming run?
#pragma once

#include "mesh/sheet_mesher.h"
#include "solver/mould/rigid_mould.h"
#include "solver/run.h"

namespace pellicle {

/// Fine over the mould's plan where the case grades the sheet.
mesh::SheetMesh make_sheet(const Case& c, const Geometry& geometry);
mould::RigidMould make_mould(const Case& c, const Geometry& geometry);
FormingSpec forming_spec(const Case& c);
/// With what geometry and mould add: the map of the heater, and vents.
FormingSpec full_spec(const Case& c, const Geometry& geometry, const mould::RigidMould& mould);

/// Sets the number of threads (0: those this process may use) and puts it back.
class Threads {
 public:
  explicit Threads(int wanted);
  ~Threads();
  Threads(const Threads&) = delete;
  Threads& operator=(const Threads&) = delete;

 private:
  int before_;
};

}  // namespace pellicle
