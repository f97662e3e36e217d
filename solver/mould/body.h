// How far does a printed mould give way under the sheet, and how hard is it pulled?
#pragma once

#include "mesh/triangle_mesh.h"
#include "mesh/voxels.h"
#include "solver/mould/body_surface.h"
#include "solver/mould/brick.h"
#include "solver/mould/cell_solver.h"

#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <vector>

namespace pellicle::mould {

struct BodyOptions {
  Elastic shell{};                 ///< of the resin at its temperature
  Elastic fill{1.0, 0.0};          ///< of the filling; no matter if there is none
  bool base_slides = false;        ///< the platform holds the base along z only; else it cannot move at all
  Vec3 across = Vec3::UnitZ();     ///< unit; direction the print's layers were stacked in
  std::vector<Vec3> asked_m = {};  ///< places whose whole stress is wanted
  SolveOptions solve{};
};

/// Force an area that acts on the surface, by triangle and place [Pa].
using Traction = std::function<Vec3(int triangle, const Vec3& x_m)>;
/// A pressure on each triangle, against its outward side.
Traction pressing(const mesh::TriangleMesh& surface, std::span<const double> pressure_Pa);

/// A force put on the surface, at a place on it.
struct PlacedForce {
  Vec3 place_m, outward;  ///< outward: unit, of the surface there
  Vec3 force_N;
  double area_m2;  ///< that it stands for
};

struct BodyResult {
  std::vector<Vec3> node_shift_m;       ///< of SolidCells' nodes
  std::vector<Vec3> point_shift_m;      ///< of the surface's points
  std::vector<double> principal_Pa;     ///< a triangle of the surface: its largest principal stress, tension positive,
                                        ///< the largest of places a cell apart; 0 where no resin is near
  std::vector<Vec3> principal_place_m;  ///< ... and which of the places that is
  std::vector<double> von_mises_Pa;     ///< ... likewise
  std::vector<double>
      node_principal_Pa;  ///< at the nodes, inside the solid and behind the shell too; 0 where no resin is
  std::vector<double> node_von_mises_Pa;
  std::vector<double> across_Pa;     ///< a triangle: the largest stress that pulls layers apart; where it has a stress
  std::vector<Vec3> across_place_m;  ///< ... and where; the triangle's first corner without one
  std::vector<double> node_across_Pa;          ///< ... likewise at the nodes
  std::vector<std::optional<Voigt>> asked_Pa;  ///< of options.asked_m, smoothed as the others; none: no shell is near
  std::vector<double> triangle_shift_m;        ///< a triangle: the largest size of the shift of places a cell apart
  Vec3 load_N = Vec3::Zero();                  ///< sum of the forces put on nodes
  Vec3 load_moment_Nm = Vec3::Zero();          ///< their moment about the origin
  double unplaced_m2 = 0.0;                    ///< loaded area too far from any cell, left out
  double energy_J = 0.0;                       ///< stored: half the work of the load
  SolveReport solve;
};

/// Linear elasticity on the cells of a mould: small shifts, isotropic materials, their stiffness in a cell weighted
/// with its shares. docs/theory/mould_body.md says how good it is.
class Body {
 public:
  /// The surface is the one the cells were cut from. Error (kGeometry) if the mould does not stand on the floor.
  Body(const mesh::TriangleMesh& surface, const mesh::Voxels& voxels, const BodyOptions& options);

  const SolidCells& solid() const { return solid_; }

  /// Forces of the tractions go to the corners of the cells below them with trilinear weights, so their sum and moment
  /// are kept to round-off. Error (kSolution) if it does not converge.
  /// Throws Stopped where options.solve.stop says so.
  BodyResult solve(const Traction& traction);
  /// The same with forces given one by one.
  BodyResult solve(std::span<const PlacedForce> forces);

 private:
  void put_force(const Vec3& x_m, const Vec3& outward, const Vec3& force_N, double area_m2, CellSolver<3>::Vector& load,
                 BodyResult& result) const;
  BodyResult solve_load(const CellSolver<3>::Vector& load, BodyResult result);
  Vec3 shift_at(const Vec3& x_m, const Vec3& outward, const CellSolver<3>::Vector& u) const;
  void find_shifts(const CellSolver<3>::Vector& u, BodyResult& result) const;
  void find_stresses(const CellSolver<3>::Vector& u, BodyResult& result) const;
  BrickShifts corner_shifts(int cell, const CellSolver<3>::Vector& u) const;
  Vec3 normal(int triangle) const;

  mesh::TriangleMesh surface_;
  BodyOptions options_;
  SolidCells solid_;
  Brick shell_;
  CellSolver<3> solver_;
};

/// What a quantity would be with cells of no size, from its values with two sizes, if its error falls with `order`; the
/// step from the finer value is the error to be feared (Richardson, Phil. Trans. R. Soc. A 210 (1911) 307; from
/// memory).
struct Extrapolated {
  double value;
  double error;
};
Extrapolated extrapolated(double coarse, double fine, double size_ratio, double order = 1.0);

}  // namespace pellicle::mould
