// What do the corners of a million cubes do under load? Conjugate gradients with multigrid, without a matrix.
#pragma once

#include "solver/mould/cell_grid.h"

#include <Eigen/Core>

#include <array>
#include <cstdint>
#include <functional>
#include <memory>
#include <vector>

namespace pellicle::mould {

/// Values a node: three shifts, padded to four, or one temperature.
template <int C>
struct NodeValue;
template <>
struct NodeValue<3> {
  using Type = Eigen::Array<double, 4, 1>;  ///< the last is 0
};
template <>
struct NodeValue<1> {
  using Type = double;
};

/// Thrown where `stop` said so; there is no answer.
struct Stopped {};

struct SolveOptions {
  double tolerance = 1e-7;  ///< of the residual's norm over that of the load
  int most_iterations = 400;
  std::function<bool()> stop = [] { return false; };  ///< asked in every iteration
};

struct SolveReport {
  int iterations = 0;
  double residual = 0.0;  ///< reached, over the load's
};

/// A u = f with A the sum over cells of share[m] * matrix[m] over both materials m, plus a diagonal. Preconditioned by
/// one V-cycle in single precision: coarse grids twice as wide each, trilinear between them, operators by Galerkin's
/// product; block Gauss-Seidel in eight colours down and in their reverse up; the smallest by Cholesky. Same bits for
/// any number of threads. C = 3 or 1.
///
/// Memory: about 350 bytes a node of the finest grid and 1.6 kB a node of the next (C = 3), 12 bytes a padded place.
template <int C>
class CellSolver {
 public:
  using Value = typename NodeValue<C>::Type;
  using Vector = std::vector<Value>;  ///< one a node
  using Matrix = Eigen::Matrix<double, 8 * C, 8 * C>;

  /// `held`: bit d set at a node whose component d stays 0, empty for none. `diagonal`: one a node, of all its
  /// components, >= 0; empty for none. Without either a solid floats freely and has no answer.
  CellSolver(const CellGrid& grid, const std::array<Matrix, 2>& matrices, std::vector<std::uint8_t> held,
             std::vector<double> diagonal);
  ~CellSolver();
  CellSolver(CellSolver&&) noexcept;
  CellSolver& operator=(CellSolver&&) noexcept;

  /// Another diagonal on the same cells: far quicker than a new solver.
  void set_diagonal(const std::vector<double>& diagonal);

  /// A u; 0 at what is held.
  void apply(const Vector& u, Vector& result) const;
  /// Improves `u`, whose held components must be 0. Error (kSolution) if it does not come to rest; throws Stopped.
  SolveReport solve(const Vector& load, Vector& u, const SolveOptions& options = {});

  int levels() const;

 private:
  struct Grids;
  std::unique_ptr<Grids> grids_;
};

extern template class CellSolver<1>;
extern template class CellSolver<3>;

}  // namespace pellicle::mould
