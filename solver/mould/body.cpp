// How far does a printed mould give way under the sheet, and how hard is it pulled?
#include "solver/mould/body.h"

#include "mesh/check.h"

#include <Eigen/Cholesky>

#include <array>
#include <cmath>
#include <cstdint>
#include <utility>

namespace pellicle::mould {
namespace {

constexpr double kStressPiece = 1.0;  // cells: places on a triangle where stress is looked at
constexpr double kStressReach = 1.5;  // cells: whose stress counts
constexpr double kBehind = 0.5;       // cells: no farther in front of the surface
constexpr float kMostlyShell = 0.3F;  // share of a cell whose stress is that of the shell

std::size_t at(int i) { return static_cast<std::size_t>(i); }

std::array<Vec3, 3> corners_of(const mesh::TriangleMesh& surface, int triangle) {
  const mesh::Triangle& t = surface.triangles[at(triangle)];
  return {surface.points_m[at(t[0])], surface.points_m[at(t[1])], surface.points_m[at(t[2])]};
}

/// Base nodes. If they may slide, two of them keep the mould from drifting and turning, which no load then asks of them
/// beyond what is out of balance: the one nearest the base's middle (x, y), and the one farthest from it (across).
std::vector<std::uint8_t> held_nodes(const SolidCells& solid, bool slides) {
  std::vector<std::uint8_t> held(at(solid.grid.nodes()), 0);
  std::vector<int> base;
  Vec3 middle = Vec3::Zero();
  for (int n = 0; n < solid.grid.nodes(); ++n) {
    if (solid.grid.where(solid.grid.place[at(n)])[2] != 0) continue;
    base.push_back(n);
    middle += solid.node_m(n);
    held[at(n)] = slides ? 4 : 7;
  }
  middle /= static_cast<double>(base.size());
  if (!slides) return held;
  const auto pick = [&](const Vec3& from, double sign) {
    int best = base.front();
    for (const int n : base)
      if (sign * (solid.node_m(n) - from).norm() < sign * (solid.node_m(best) - from).norm()) best = n;
    return best;
  };
  const int centre = pick(middle, 1.0), far = pick(solid.node_m(centre), -1.0);
  held[at(centre)] = 7;
  const Vec3 arm = (solid.node_m(far) - solid.node_m(centre)).cwiseAbs();
  held[at(far)] = arm.x() >= arm.y() ? 6 : 5;
  return held;
}

/// Cells stand in steps, and the stress of a single one beside a step is off. So a plane f(x) = f0 + g.x is laid
/// through the stresses of the shell's cells within reach, each with its own slope, weighted with their share of shell.
class StressFit {
 public:
  /// `shifts` of the corners of a cell at a place.
  template <class Shifts>
  StressFit(const SolidCells& solid, const Brick& shell, const Shifts& shifts)
      : solid_(solid), entry_(solid.grid.share.size(), -1) {
    std::vector<int> cells;
    for (int p = 0; p < static_cast<int>(entry_.size()); ++p)
      if (solid.grid.share[at(p)][0] >= kMostlyShell)
        entry_[at(p)] = static_cast<int>(cells.size()), cells.push_back(p);
    cells_.resize(cells.size());
#pragma omp parallel for schedule(static)
    for (int i = 0; i < static_cast<int>(cells.size()); ++i) {
      const BrickShifts u = shifts(cells[at(i)]);
      const auto stress = [&](const Vec3& x) { return shell.stress_Pa(shell.strain(u, x) / solid.cell_m); };
      cells_[at(i)].mean = stress(Vec3::Zero()).template cast<float>();
      for (int d = 0; d < 3; ++d)
        cells_[at(i)].slope.col(d) = (stress(Vec3::Unit(d)) - stress(-Vec3::Unit(d))).template cast<float>();
    }
  }

  /// f0 at a place; cells that lie in front of it (by `outward`, 0 for none) do not count. False: none is near.
  bool at_place(const Vec3& x_m, const Vec3& outward, Voigt& value) const {
    const CellGrid& grid = solid_.grid;
    const Vec3 x = (x_m - solid_.low_m) / solid_.cell_m;
    Eigen::Matrix4d moments = Eigen::Matrix4d::Zero();
    Eigen::Matrix<double, 4, 6> right = Eigen::Matrix<double, 4, 6>::Zero();
    std::array<int, 3> from{}, to{};
    for (int d = 0; d < 3; ++d) {
      from[at(d)] = std::max(0, static_cast<int>(std::floor(x[d] - kStressReach)));
      to[at(d)] = std::min(grid.cells[at(d)] - 1, static_cast<int>(std::floor(x[d] + kStressReach)));
    }
    for (int k = from[2]; k <= to[2]; ++k)
      for (int j = from[1]; j <= to[1]; ++j)
        for (int i = from[0]; i <= to[0]; ++i) {
          const int p = grid.place_of(i, j, k);
          const Vec3 d = Vec3(i + 0.5, j + 0.5, k + 0.5) - x;
          if (entry_[at(p)] < 0 || d.squaredNorm() > kStressReach * kStressReach || d.dot(outward) > kBehind) continue;
          const CellStress& s = cells_[at(entry_[at(p)])];
          const double weight = static_cast<double>(grid.share[at(p)][0]);
          const Eigen::Vector4d one_d(1.0, d.x(), d.y(), d.z());
          moments += weight * one_d * one_d.transpose();
          moments.diagonal().tail<3>().array() += weight / 12.0;  // of a cell about its own middle
          right += weight * one_d * s.mean.cast<double>().transpose();
          right.bottomRows<3>() += weight / 12.0 * s.slope.cast<double>().transpose();
        }
    if (moments(0, 0) == 0.0) return false;
    value = moments.ldlt().solve(right).row(0).transpose();
    return true;
  }

 private:
  /// Linear about the cell's middle.
  struct CellStress {
    Eigen::Matrix<float, 6, 1> mean;
    Eigen::Matrix<float, 6, 3> slope;  ///< a cell edge
  };
  const SolidCells& solid_;
  std::vector<int> entry_;  ///< in cells_, by place; -1: none
  std::vector<CellStress> cells_;
};

}  // namespace

Traction pressing(const mesh::TriangleMesh& surface, std::span<const double> pressure_Pa) {
  ensure(pressure_Pa.size() == surface.triangles.size(), "a pressure for every triangle");
  std::vector<Vec3> traction_Pa(pressure_Pa.size(), Vec3::Zero());
  for (std::size_t t = 0; t < traction_Pa.size(); ++t) {
    const auto [a, b, c] = corners_of(surface, static_cast<int>(t));
    const Vec3 n = (b - a).cross(c - a);
    if (n.squaredNorm() > 0.0) traction_Pa[t] = -pressure_Pa[t] * n.normalized();
  }
  return [traction = std::move(traction_Pa)](int t, const Vec3&) { return traction[at(t)]; };
}

Body::Body(const mesh::TriangleMesh& surface, const mesh::Voxels& voxels, const BodyOptions& options)
    : surface_(surface),
      options_(options),
      solid_(solid_cells(voxels)),
      shell_(options.shell),
      solver_(solid_.grid,
              {voxels.cell_m * shell_.stiffness_N_m(), voxels.cell_m * Brick(options.fill).stiffness_N_m()},
              held_nodes(solid_, options.base_slides), {}) {}

Vec3 Body::normal(int triangle) const {
  const auto [a, b, c] = corners_of(surface_, triangle);
  const Vec3 n = (b - a).cross(c - a);
  return n.squaredNorm() > 0.0 ? Vec3(n.normalized()) : Vec3(Vec3::Zero());
}

void Body::put_force(const Vec3& x_m, const Vec3& outward, const Vec3& force_N, double area_m2,
                     CellSolver<3>::Vector& load, BodyResult& result) const {
  if (force_N.isZero(0.0)) return;
  const Spot spot = spot_of(solid_, x_m, outward);
  if (spot.cell < 0) {
    result.unplaced_m2 += area_m2;
    return;
  }
  for (int k = 0; k < 8; ++k) {
    const int node = solid_.grid.number[at(spot.cell + solid_.grid.to_corner(k))];
    load[at(node)].head<3>() += corner_weight(k, spot.at) * force_N.array();
  }
}

BodyResult Body::solve(const Traction& traction) {
  BodyResult result;
  CellSolver<3>::Vector load(at(solid_.grid.nodes()) + 1, Eigen::Array4d::Zero());
  for (int t = 0; t < static_cast<int>(surface_.triangles.size()); ++t) {
    const Vec3 outward = normal(t);
    cut_by_cells(solid_, corners_of(surface_, t), [&](const Vec3& x, double area_m2) {
      put_force(x, outward, area_m2 * traction(t, x), area_m2, load, result);
    });
  }
  return solve_load(load, std::move(result));
}

BodyResult Body::solve(std::span<const PlacedForce> forces) {
  BodyResult result;
  CellSolver<3>::Vector load(at(solid_.grid.nodes()) + 1, Eigen::Array4d::Zero());
  for (const PlacedForce& f : forces) put_force(f.place_m, f.outward, f.force_N, f.area_m2, load, result);
  return solve_load(load, std::move(result));
}

BodyResult Body::solve_load(const CellSolver<3>::Vector& load, BodyResult result) {
  CellSolver<3>::Vector u(load.size(), Eigen::Array4d::Zero());
  result.solve = solver_.solve(load, u, options_.solve);
  for (int n = 0; n < solid_.grid.nodes(); ++n) {
    const Vec3 force = load[at(n)].head<3>();
    result.load_N += force;
    result.load_moment_Nm += solid_.node_m(n).cross(force);
    result.energy_J += 0.5 * (load[at(n)] * u[at(n)]).sum();
    result.node_shift_m.emplace_back(u[at(n)].head<3>());
  }
  find_shifts(u, result);
  find_stresses(u, result);
  return result;
}

BrickShifts Body::corner_shifts(int cell, const CellSolver<3>::Vector& u) const {
  BrickShifts shifts;
  for (int k = 0; k < 8; ++k)
    shifts.segment<3>(3 * k) = u[at(solid_.grid.number[at(cell + solid_.grid.to_corner(k))])].head<3>();
  return shifts;
}

void Body::find_shifts(const CellSolver<3>::Vector& u, BodyResult& result) const {
  std::vector<Vec3> outward(surface_.points_m.size(), Vec3::Zero());
  for (int t = 0; t < static_cast<int>(surface_.triangles.size()); ++t)
    for (const int p : surface_.triangles[at(t)]) outward[at(p)] += normal(t);
  result.point_shift_m.assign(surface_.points_m.size(), Vec3::Zero());
#pragma omp parallel for schedule(static)
  for (int p = 0; p < static_cast<int>(outward.size()); ++p) {
    if (outward[at(p)].squaredNorm() > 0.0) outward[at(p)].normalize();
    result.point_shift_m[at(p)] = shift_at(surface_.points_m[at(p)], outward[at(p)], u);
  }
  result.triangle_shift_m.assign(surface_.triangles.size(), 0.0);
#pragma omp parallel for schedule(dynamic, 64)
  for (int t = 0; t < static_cast<int>(surface_.triangles.size()); ++t) {
    const auto [a, b, c] = corners_of(surface_, t);
    const Vec3 out = normal(t);
    for_pieces(a, b, c, kStressPiece * solid_.cell_m, [&](const Vec3& x, double) {
      result.triangle_shift_m[at(t)] = std::max(result.triangle_shift_m[at(t)], shift_at(x, out, u).norm());
    });
  }
}

Vec3 Body::shift_at(const Vec3& x_m, const Vec3& outward, const CellSolver<3>::Vector& u) const {
  Vec3 shift = Vec3::Zero();
  const Spot spot = spot_of(solid_, x_m, outward);
  if (spot.cell < 0) return shift;
  const BrickShifts shifts = corner_shifts(spot.cell, u);
  for (int k = 0; k < 8; ++k) shift += corner_weight(k, spot.at) * shifts.segment<3>(3 * k);
  return shift;
}

void Body::find_stresses(const CellSolver<3>::Vector& u, BodyResult& result) const {
  const StressFit fit(solid_, shell_, [&](int cell) { return corner_shifts(cell, u); });
  const int triangles = static_cast<int>(surface_.triangles.size()), nodes = solid_.grid.nodes();
  result.principal_Pa.assign(at(triangles), 0.0);
  result.von_mises_Pa.assign(at(triangles), 0.0);
  result.across_Pa.assign(at(triangles), 0.0);
  result.principal_place_m.resize(at(triangles));
  result.across_place_m.resize(at(triangles));
#pragma omp parallel for schedule(dynamic, 64)
  for (int t = 0; t < triangles; ++t) {
    const auto [a, b, c] = corners_of(surface_, t);
    const Vec3 outward = normal(t);
    bool is_first = true;
    result.principal_place_m[at(t)] = result.across_place_m[at(t)] = a;
    for_pieces(a, b, c, kStressPiece * solid_.cell_m, [&](const Vec3& x, double) {
      Voigt s;
      if (!fit.at_place(x, outward, s)) return;
      const double principal = largest_principal_Pa(s), across = normal_stress_Pa(s, options_.across);
      if (is_first || principal > result.principal_Pa[at(t)])
        result.principal_Pa[at(t)] = principal, result.principal_place_m[at(t)] = x;
      if (across > result.across_Pa[at(t)]) result.across_Pa[at(t)] = across, result.across_place_m[at(t)] = x;
      result.von_mises_Pa[at(t)] = std::max(result.von_mises_Pa[at(t)], von_mises_Pa(s));
      is_first = false;
    });
  }
  result.node_principal_Pa.assign(at(nodes), 0.0);
  result.node_von_mises_Pa.assign(at(nodes), 0.0);
  result.node_across_Pa.assign(at(nodes), 0.0);
#pragma omp parallel for schedule(static)
  for (int n = 0; n < nodes; ++n) {
    Voigt s;
    if (!fit.at_place(solid_.node_m(n), Vec3::Zero(), s)) continue;
    result.node_principal_Pa[at(n)] = largest_principal_Pa(s);
    result.node_von_mises_Pa[at(n)] = von_mises_Pa(s);
    result.node_across_Pa[at(n)] = normal_stress_Pa(s, options_.across);
  }
  for (const Vec3& x : options_.asked_m) {
    Voigt s;
    const bool is_there = fit.at_place(x, Vec3::Zero(), s);
    result.asked_Pa.push_back(is_there ? std::optional(s) : std::nullopt);
  }
}

Extrapolated extrapolated(double coarse, double fine, double size_ratio, double order) {
  ensure(size_ratio > 1.0 && order > 0.0, "the coarse cells are larger");
  const double step = (fine - coarse) / (std::pow(size_ratio, order) - 1.0);
  return {fine + step, std::abs(step)};
}

}  // namespace pellicle::mould
