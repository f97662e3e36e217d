// What do the corners of a million cubes do under load? Conjugate gradients with multigrid, without a matrix.
#include "solver/mould/cell_solver.h"

#include "mesh/check.h"
#include "solver/mould/cell_level.h"

#include <fmt/core.h>

#include <Eigen/SparseCholesky>
#include <Eigen/SparseCore>

#include <algorithm>
#include <cmath>
#include <utility>

namespace pellicle::mould {
namespace {

constexpr int kFewestNodes = 500;  // no more coarse grids below: solved at once
constexpr int kSweeps = 1;         // of smoothing, each way
constexpr int kSumNodes = 2048;    // a fixed block of a sum
constexpr double kShift = 1e-6;    // of the coarsest diagonal, whose entries are rounded to floats

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// Sum over nodes in fixed blocks, the same for any number of threads.
template <class F>
double ordered_sum(int nodes, std::vector<double>& parts, const F& term) {
  const int blocks = (nodes + kSumNodes - 1) / kSumNodes;
  parts.resize(at(blocks));
#pragma omp parallel for schedule(static) if (nodes > kFewNodes)
  for (int k = 0; k < blocks; ++k) {
    double sum = 0.0;
    for (int n = k * kSumNodes; n < std::min(nodes, (k + 1) * kSumNodes); ++n) sum += term(n);
    parts[at(k)] = sum;
  }
  double total = 0.0;
  for (const double p : parts) total += p;
  return total;
}

/// Coarse nodes a fine one at 2 I + d is made of, along one axis: steps from I, weights.
struct Parents {
  int count;
  std::array<int, 2> step;
  std::array<float, 2> weight;
};
constexpr std::array<Parents, 5> kParents{{{1, {-1, 0}, {1.0F, 0.0F}},
                                           {2, {-1, 0}, {0.5F, 0.5F}},
                                           {1, {0, 0}, {1.0F, 0.0F}},
                                           {2, {0, 1}, {0.5F, 0.5F}},
                                           {1, {1, 0}, {1.0F, 0.0F}}}};

constexpr float weight_of(int dx, int dy, int dz) {
  return (dx == 0 ? 1.0F : 0.5F) * (dy == 0 ? 1.0F : 0.5F) * (dz == 0 ? 1.0F : 0.5F);
}

}  // namespace

template <int C>
struct CellSolver<C>::Grids {
  using Lane = Lanes<C, float>;
  using Wide = Lanes<C, double>;
  using Block = typename Lane::Block;

  Bricks<C, float> bricks;
  Bricks<C, double> exact;
  std::vector<Level<C>> levels;
  Eigen::SimplicialLDLT<Eigen::SparseMatrix<double>> coarsest;
  bool has_pattern = false;
  std::vector<double> parts;
  Vector residual, direction, image;

  explicit Grids(const std::array<Matrix, 2>& matrices) : bricks(matrices), exact(matrices) {}

  int place_above(std::size_t l, int coarse_node) const {
    const auto [i, j, k] = levels[l + 1].grid.where(levels[l + 1].grid.place[at(coarse_node)]);
    return levels[l].grid.place_of(2 * i, 2 * j, 2 * k);
  }

  /// Shows the fine nodes around a coarse one, with their weights and where they are.
  template <class Visit>
  void around(std::size_t l, int coarse_node, const Visit& visit) const {
    const CellGrid& fine = levels[l].grid;
    const auto [i, j, k] = levels[l + 1].grid.where(levels[l + 1].grid.place[at(coarse_node)]);
    for (int dz = -1; dz <= 1; ++dz)
      for (int dy = -1; dy <= 1; ++dy)
        for (int dx = -1; dx <= 1; ++dx) {
          const std::array<int, 3> x{2 * i + dx, 2 * j + dy, 2 * k + dz};
          bool is_inside = true;
          for (std::size_t d = 0; d < 3; ++d) is_inside = is_inside && x[d] >= 0 && x[d] <= fine.cells[d];
          if (!is_inside) continue;
          const int n = fine.number[at(fine.place_of(x[0], x[1], x[2]))];
          if (n < fine.nodes()) visit(n, weight_of(dx, dy, dz), std::array<int, 3>{dx, dy, dz});
        }
  }

  void add_coarse_level() {
    const std::size_t l = levels.size() - 1;
    levels.emplace_back(coarser(levels[l].grid));
    Level<C>& coarse = levels.back();
    coarse.stencil.resize(at(coarse.nodes()));
#pragma omp parallel for schedule(dynamic, 64)
    for (int n = 0; n < coarse.nodes(); ++n) {
      multiply_out(l, n, coarse.stencil[at(n)]);
      // A coarse node that reaches into something held must not move it.
      std::uint8_t bits = 0;
      around(l, n, [&](int fine, float, const std::array<int, 3>&) { bits |= levels[l].held[at(fine)]; });
      coarse.held[at(n)] = bits;
    }
  }

  /// Row of P^T A P: first over the 125 fine nodes in reach, then to the 27 coarse ones.
  void multiply_out(std::size_t l, int coarse_node, std::array<Block, 27>& result) const {
    std::array<Block, 125> reach;
    reach.fill(Lane::no_block());
    std::array<Block, 27> blocks;
    around(l, coarse_node, [&](int fine, float weight, const std::array<int, 3>& d) {
      levels[l].row(bricks, fine, blocks);
      for (int z = 0; z < 3; ++z)
        for (int y = 0; y < 3; ++y)
          for (int x = 0; x < 3; ++x)
            Lane::add(reach[at((d[0] + 1 + x) + 5 * (d[1] + 1 + y) + 25 * (d[2] + 1 + z))],
                      blocks[at(x + 3 * y + 9 * z)], weight);
    });
    result.fill(Lane::no_block());
    for (int f = 0; f < 125; ++f) {
      const Parents &px = kParents[at(f % 5)], &py = kParents[at(f / 5 % 5)], &pz = kParents[at(f / 25)];
      for (int c = 0; c < pz.count; ++c)
        for (int b = 0; b < py.count; ++b)
          for (int a = 0; a < px.count; ++a)
            Lane::add(result[at(neighbour(px.step[at(a)], py.step[at(b)], pz.step[at(c)]))], reach[at(f)],
                      px.weight[at(a)] * py.weight[at(b)] * pz.weight[at(c)]);
    }
  }

  /// The diagonal goes to coarse nodes in the shares of their weights; its sum stays.
  void coarsen_diagonals() {
    for (std::size_t l = 0; l + 1 < levels.size(); ++l) {
      levels[l + 1].diagonal.clear();
      if (levels[l].diagonal.empty()) continue;
      levels[l + 1].diagonal.assign(at(levels[l + 1].nodes()), 0.0);
      for (int n = 0; n < levels[l + 1].nodes(); ++n)
        around(l, n, [&](int fine, float weight, const std::array<int, 3>&) {
          levels[l + 1].diagonal[at(n)] += static_cast<double>(weight) * levels[l].diagonal[at(fine)];
        });
    }
  }

  void factorise() {
    for (Level<C>& level : levels) level.invert_own_blocks(bricks);
    const Level<C>& last = levels.back();
    std::vector<Eigen::Triplet<double>> entries;
    std::array<Block, 27> blocks;
    for (int n = 0; n < last.nodes(); ++n) {
      last.row(bricks, n, blocks);
      for (std::size_t k = 0; k < 27; ++k) {
        const int m = last.grid.number[at(last.grid.place[at(n)] + last.to_neighbour[k])];
        if (m == last.nodes()) continue;
        Eigen::Matrix<double, C, C> block = Lane::matrix_of(blocks[k]);
        if (m == n) block.diagonal() *= 1.0 + kShift;
        if (m == n && !last.diagonal.empty()) block.diagonal().array() += last.diagonal[at(n)];
        for (int a = 0; a < C; ++a)
          for (int b = 0; b < C; ++b) {
            const bool is_held = ((last.held[at(n)] >> a) & 1) != 0 || ((last.held[at(m)] >> b) & 1) != 0;
            if (is_held && !(m == n && a == b)) continue;
            entries.emplace_back(C * n + a, C * m + b, is_held ? 1.0 : block(a, b));
          }
      }
    }
    Eigen::SparseMatrix<double> matrix(C * last.nodes(), C * last.nodes());
    matrix.setFromTriplets(entries.begin(), entries.end());
    if (!has_pattern) coarsest.analyzePattern(matrix);
    has_pattern = true;
    coarsest.factorize(matrix);
    ensure(coarsest.info() == Eigen::Success, "the coarsest grid's matrix is positive definite");
  }

  void solve_coarsest(Level<C>& level) const {
    Eigen::VectorXd b(C * level.nodes());
    for (int n = 0; n < level.nodes(); ++n)
      for (int d = 0; d < C; ++d)
        b[C * n + d] = ((level.held[at(n)] >> d) & 1) != 0 ? 0.0 : Lane::component(level.b[at(n)], d);
    const Eigen::VectorXd x = coarsest.solve(b);
    for (int n = 0; n < level.nodes(); ++n)
      for (int d = 0; d < C; ++d) Lane::set_component(level.u[at(n)], d, x[C * n + d]);
  }

  /// u = about A^-1 b on a grid.
  void cycle(std::size_t l) {
    Level<C>& level = levels[l];
    if (l + 1 == levels.size()) {
      solve_coarsest(level);
      return;
    }
    std::fill(level.u.begin(), level.u.end(), Lane::nothing());
    for (int s = 0; s < kSweeps; ++s) level.smooth(bricks, false);
    level.find_residual(bricks);
    Level<C>& coarse = levels[l + 1];
#pragma omp parallel for schedule(static) if (coarse.nodes() > kFewNodes)
    for (int n = 0; n < coarse.nodes(); ++n) {
      typename Lane::Value sum = Lane::nothing();
      around(l, n, [&](int fine, float weight, const std::array<int, 3>&) { sum += weight * level.r[at(fine)]; });
      coarse.b[at(n)] = sum;
    }
    cycle(l + 1);
    add_correction(l);
    for (int s = 0; s < kSweeps; ++s) level.smooth(bricks, true);
  }

  void add_correction(std::size_t l) {
    Level<C>& level = levels[l];
    const Level<C>& coarse = levels[l + 1];
#pragma omp parallel for schedule(static) if (level.nodes() > kFewNodes)
    for (int n = 0; n < level.nodes(); ++n) {
      const auto [i, j, k] = level.grid.where(level.grid.place[at(n)]);
      const std::array<int, 3> odd{i & 1, j & 1, k & 1};
      const int place = coarse.grid.place_of(i / 2, j / 2, k / 2);
      const float weight = weight_of(odd[0], odd[1], odd[2]);
      typename Lane::Value sum = Lane::nothing();
      for (int c = 0; c <= odd[2]; ++c)
        for (int b = 0; b <= odd[1]; ++b)
          for (int a = 0; a <= odd[0]; ++a)
            sum += coarse.u[at(coarse.grid.number[at(place + a + b * coarse.grid.step[1] + c * coarse.grid.step[2])])];
      sum *= weight;
      hold<C, float>(sum, level.held[at(n)]);
      level.u[at(n)] += sum;
    }
  }

  /// z = M^-1 residual, left in levels[0].u.
  void precondition(double scale) {
    Level<C>& finest = levels[0];
#pragma omp parallel for schedule(static) if (finest.nodes() > kFewNodes)
    for (int n = 0; n < finest.nodes(); ++n) {
      if constexpr (C == 1)
        finest.b[at(n)] = static_cast<float>(scale * residual[at(n)]);
      else
        finest.b[at(n)] = (scale * residual[at(n)]).template cast<float>();
    }
    cycle(0);
  }

  double preconditioned(int n, int d) const { return Lane::component(levels[0].u[at(n)], d); }

  /// Residual against its preconditioned self.
  double product_with_preconditioned() {
    return ordered_sum(levels[0].nodes(), parts, [&](int n) {
      double sum = 0.0;
      for (int d = 0; d < C; ++d) sum += Wide::component(residual[at(n)], d) * preconditioned(n, d);
      return sum;
    });
  }
};

template <int C>
CellSolver<C>::CellSolver(const CellGrid& grid, const std::array<Matrix, 2>& matrices, std::vector<std::uint8_t> held,
                          std::vector<double> diagonal)
    : grids_(std::make_unique<Grids>(matrices)) {
  ensure(grid.nodes() > 0, "a solver has nodes");
  grids_->levels.reserve(32);  // of halving ints there are no more
  grids_->levels.emplace_back(grid);
  if (!held.empty()) grids_->levels[0].held = std::move(held);
  grids_->levels[0].diagonal = std::move(diagonal);
  while (grids_->levels.back().nodes() > kFewestNodes &&
         *std::max_element(grids_->levels.back().grid.cells.begin(), grids_->levels.back().grid.cells.end()) > 2)
    grids_->add_coarse_level();
  grids_->coarsen_diagonals();
  grids_->factorise();
  const auto size = at(grid.nodes()) + 1;
  grids_->residual.assign(size, Grids::Wide::nothing());
  grids_->direction = grids_->image = grids_->residual;
}

template <int C>
CellSolver<C>::~CellSolver() = default;
template <int C>
CellSolver<C>::CellSolver(CellSolver&&) noexcept = default;
template <int C>
CellSolver<C>& CellSolver<C>::operator=(CellSolver&&) noexcept = default;

template <int C>
int CellSolver<C>::levels() const {
  return static_cast<int>(grids_->levels.size());
}

template <int C>
void CellSolver<C>::set_diagonal(const std::vector<double>& diagonal) {
  grids_->levels[0].diagonal = diagonal;
  grids_->coarsen_diagonals();
  grids_->factorise();
}

template <int C>
void CellSolver<C>::apply(const Vector& u, Vector& result) const {
  const Level<C>& finest = grids_->levels[0];
  ensure(u.size() == at(finest.nodes()) + 1, "vectors have one value more than there are nodes, the last 0");
  result.resize(u.size(), Grids::Wide::nothing());
#pragma omp parallel for schedule(static) if (finest.nodes() > kFewNodes)
  for (int n = 0; n < finest.nodes(); ++n) {
    Value v = finest.template product<double>(grids_->exact, n, u.data());
    hold<C, double>(v, finest.held[at(n)]);
    result[at(n)] = v;
  }
}

template <int C>
SolveReport CellSolver<C>::solve(const Vector& load, Vector& u, const SolveOptions& options) {
  Grids& g = *grids_;
  using Wide = typename Grids::Wide;
  const int nodes = g.levels[0].nodes();
  const std::vector<std::uint8_t>& held = g.levels[0].held;
  ensure(load.size() == at(nodes) + 1, "vectors have one value more than there are nodes, the last 0");
  u.resize(load.size(), Wide::nothing());
  const double load_sq = ordered_sum(nodes, g.parts, [&](int n) {
    Value v = load[at(n)];
    hold<C, double>(v, held[at(n)]);
    return Wide::dot(v, v);
  });
  if (load_sq == 0.0) {
    std::fill(u.begin(), u.end(), Wide::nothing());
    return {};
  }
  apply(u, g.image);
  double left_sq = ordered_sum(nodes, g.parts, [&](int n) {
    Value v = load[at(n)] - g.image[at(n)];
    hold<C, double>(v, held[at(n)]);
    g.residual[at(n)] = v;
    return Wide::dot(v, v);
  });
  std::fill(g.direction.begin(), g.direction.end(), Wide::nothing());
  double rz = 0.0;
  SolveReport report;
  for (;; ++report.iterations) {
    report.residual = std::sqrt(left_sq / load_sq);
    if (report.residual <= options.tolerance) return report;
    if (report.iterations == options.most_iterations || !std::isfinite(left_sq)) break;
    if (options.stop()) throw Stopped{};
    // Floats hold the residual at any size, scaled to one: M^-1 r = |r| M^-1 (r / |r|).
    const double size = std::sqrt(left_sq);
    g.precondition(1.0 / size);
    const double rz_new = size * g.product_with_preconditioned();
    const double beta = rz > 0.0 ? rz_new / rz : 0.0;
    rz = rz_new;
#pragma omp parallel for schedule(static) if (nodes > kFewNodes)
    for (int n = 0; n < nodes; ++n) {
      g.direction[at(n)] *= beta;
      if constexpr (C == 1)
        g.direction[at(n)] += size * g.preconditioned(n, 0);
      else
        g.direction[at(n)] += size * g.levels[0].u[at(n)].template cast<double>();
    }
    apply(g.direction, g.image);
    const double curvature =
        ordered_sum(nodes, g.parts, [&](int n) { return Wide::dot(g.direction[at(n)], g.image[at(n)]); });
    const double step = rz / curvature;
    left_sq = ordered_sum(nodes, g.parts, [&](int n) {
      u[at(n)] += step * g.direction[at(n)];
      g.residual[at(n)] -= step * g.image[at(n)];
      return Wide::dot(g.residual[at(n)], g.residual[at(n)]);
    });
  }
  throw Error({Fault::Kind::kSolution, "solid model of the mould",
               fmt::format("a residual of {:.1e} of the load after {} iterations", report.residual, report.iterations),
               fmt::format("at most {:.1e}", options.tolerance),
               "cells of very different size of material, or parts that hang by a thread: take smaller cells"});
}

template class CellSolver<1>;
template class CellSolver<3>;

}  // namespace pellicle::mould
