// Does the solver without a matrix solve what a dense matrix solves, as quickly on any size of grid?
#include "solver/mould/cell_solver.h"

#include "mesh/check.h"
#include "solver/mould/brick.h"
#include "solver/mould/cell_level.h"

#include <gtest/gtest.h>
#include <omp.h>

#include <Eigen/Cholesky>
#include <Eigen/Dense>

#include <cmath>
#include <numbers>
#include <random>

namespace pellicle::mould {
namespace {

using std::numbers::pi;
constexpr Elastic kResin{2.4e9, 0.37}, kPlaster{4.0e9, 0.22};
const Eigen::Array4d kNothing = Eigen::Array4d::Zero();

std::size_t at(int i) { return static_cast<std::size_t>(i); }

template <class ShareOf>
CellGrid grid_of(int nx, int ny, int nz, const ShareOf& share_of) {
  CellGrid grid = empty_grid({nx, ny, nz});
  for (int k = 0; k < nz; ++k)
    for (int j = 0; j < ny; ++j)
      for (int i = 0; i < nx; ++i) grid.share[at(grid.place_of(i, j, k))] = share_of(i, j, k);
  number_nodes(grid);
  return grid;
}

CellGrid full(int nx, int ny, int nz) {
  return grid_of(nx, ny, nz, [](int, int, int) { return Shares{1.0F, 0.0F}; });
}

CellSolver<3> elastic_solver(const CellGrid& grid, std::vector<std::uint8_t> held) {
  return {grid, {Brick(kResin).stiffness_N_m(), Brick(kPlaster).stiffness_N_m()}, std::move(held), {}};
}

/// A shape with holes, bridges and both materials.
CellGrid odd_shape(int n) {
  std::mt19937 dice(4);
  return grid_of(n, n - 1, n + 1, [&](int i, int j, int k) {
    const float a = static_cast<float>(dice() % 1000) / 1000.0F;
    if (k > 0 && (i * 7 + j * 3 + k * 5) % 6 == 0) return Shares{0.0F, 0.0F};
    return (i + j + k) % 3 == 0 ? Shares{0.1F + 0.9F * a, 0.0F} : Shares{0.5F * a, 1.0F - 0.5F * a};
  });
}

std::vector<std::uint8_t> base_held(const CellGrid& grid, std::uint8_t bits = 7) {
  std::vector<std::uint8_t> held(at(grid.nodes()), 0);
  for (int n = 0; n < grid.nodes(); ++n)
    if (grid.where(grid.place[at(n)])[2] == 0) held[at(n)] = bits;
  return held;
}

TEST(CellSolver, SolvesWhatADenseMatrixSolves) {
  const CellGrid grid = odd_shape(9);  // 900 nodes: one coarse grid
  const int nodes = grid.nodes();
  const std::vector<std::uint8_t> held = base_held(grid);
  CellSolver<3> solver = elastic_solver(grid, held);
  EXPECT_GE(solver.levels(), 2);
  const std::array<BrickMatrix, 2> k{Brick(kResin).stiffness_N_m(), Brick(kPlaster).stiffness_N_m()};
  Eigen::MatrixXd dense = Eigen::MatrixXd::Zero(3 * nodes, 3 * nodes);
  for (int p = 0; p < static_cast<int>(grid.share.size()); ++p) {
    if (!grid.is_solid(p)) continue;
    const BrickMatrix m =
        static_cast<double>(grid.share[at(p)][0]) * k[0] + static_cast<double>(grid.share[at(p)][1]) * k[1];
    for (int a = 0; a < 8; ++a)
      for (int b = 0; b < 8; ++b)
        dense.block<3, 3>(3 * grid.number[at(p + grid.to_corner(a))], 3 * grid.number[at(p + grid.to_corner(b))]) +=
            m.block<3, 3>(3 * a, 3 * b);
  }
  for (int n = 0; n < nodes; ++n)
    for (int d = 0; d < 3; ++d)
      if (held[at(n)] != 0) {
        dense.row(3 * n + d).setZero();
        dense.col(3 * n + d).setZero();
        dense(3 * n + d, 3 * n + d) = 1.0;
      }
  std::mt19937 dice(8);
  CellSolver<3>::Vector load(at(nodes) + 1, kNothing), u = load, image;
  Eigen::VectorXd right(3 * nodes);
  for (int n = 0; n < nodes; ++n)
    for (int d = 0; d < 3; ++d) {
      load[at(n)][d] = static_cast<double>(dice() % 2001) - 1000.0;
      right[3 * n + d] = held[at(n)] != 0 ? 0.0 : load[at(n)][d];
    }
  SolveOptions options;
  options.tolerance = 1e-10;
  const SolveReport report = solver.solve(load, u, options);
  EXPECT_GT(report.iterations, 3);
  const Eigen::VectorXd exact = dense.llt().solve(right);
  double worst = 0.0;
  for (int n = 0; n < nodes; ++n)
    for (int d = 0; d < 3; ++d) worst = std::max(worst, std::abs(u[at(n)][d] - exact[3 * n + d]));
  // Residual 1e-10 times a condition number of some thousands (9 cells, shares down to 0.1).
  EXPECT_LT(worst, 1e-6 * exact.cwiseAbs().maxCoeff());
  // The operator itself, to the rounding of sums of 24 products.
  solver.apply(u, image);
  Eigen::VectorXd flat(3 * nodes);
  for (int n = 0; n < nodes; ++n) flat.segment<3>(3 * n) = u[at(n)].head<3>();
  const Eigen::VectorXd product = dense * flat;
  worst = 0.0;
  for (int n = 0; n < nodes; ++n)
    for (int d = 0; d < 3; ++d)
      if (held[at(n)] == 0) worst = std::max(worst, std::abs(image[at(n)][d] - product[3 * n + d]));
  EXPECT_LT(worst, 1e-12 * product.cwiseAbs().maxCoeff());
}

// All six states of constant strain on a block whose shares add up to one: forces inside vanish, and from the forces
// on its sides alone, held at three points, the solver finds the state again.
TEST(CellSolver, PassesThePatchTest) {
  std::mt19937 dice(1);
  const CellGrid grid = grid_of(6, 5, 7, [&](int, int, int) {
    const float a = static_cast<float>(dice() % 1025) / 1024.0F;
    return Shares{a, 1.0F - a};
  });
  std::vector<std::uint8_t> held(at(grid.nodes()), 0);
  const auto number = [&](int i, int j, int k) { return grid.number[at(grid.place_of(i, j, k))]; };
  held[at(number(0, 0, 0))] = 7;
  held[at(number(6, 0, 0))] = 6;  // y, z
  held[at(number(0, 5, 0))] = 4;  // z
  const BrickMatrix k = Brick(kResin).stiffness_N_m();
  CellSolver<3> free(grid, {k, k}, {}, {}), solver(grid, {k, k}, held, {});
  SolveOptions options;
  options.tolerance = 1e-12;
  for (int s = 0; s < 6; ++s) {
    Eigen::Matrix3d gradient = Eigen::Matrix3d::Zero();
    constexpr std::array<std::array<int, 2>, 6> kAt{{{0, 0}, {1, 1}, {2, 2}, {1, 2}, {0, 2}, {0, 1}}};
    gradient(kAt[at(s)][0], kAt[at(s)][1]) = 1e-3;  // upper triangle: does not move what is held
    CellSolver<3>::Vector u(at(grid.nodes()) + 1, kNothing), force, found = u;
    for (int n = 0; n < grid.nodes(); ++n) {
      const auto [i, j, l] = grid.where(grid.place[at(n)]);
      u[at(n)].head<3>() = (gradient * Eigen::Vector3d(i, j, l)).array();
    }
    free.apply(u, force);
    int inside = 0;
    for (int n = 0; n < grid.nodes(); ++n) {
      const auto [i, j, l] = grid.where(grid.place[at(n)]);
      if (i == 0 || j == 0 || l == 0 || i == 6 || j == 5 || l == 7) continue;
      EXPECT_LT(force[at(n)].abs().maxCoeff(), 1e-12 * kResin.modulus_Pa);  // of forces of 1e-3 E
      ++inside;
    }
    EXPECT_EQ(inside, 5 * 4 * 6);
    solver.solve(force, found, options);
    for (int n = 0; n < grid.nodes(); ++n) EXPECT_LT((found[at(n)] - u[at(n)]).abs().maxCoeff(), 1e-9);  // of 7e-3
  }
}

// The work of a V-cycle is in proportion to the cells; so is the solver's if the number of cycles stays.
TEST(CellSolver, TakesAsManyIterationsOnAnySize) {
  std::array<int, 2> iterations{};
  for (int s = 0; s < 2; ++s) {
    const int n = s == 0 ? 32 : 64;
    const CellGrid grid = full(n, n, n);
    CellSolver<3> solver = elastic_solver(grid, base_held(grid));
    CellSolver<3>::Vector load(at(grid.nodes()) + 1, kNothing), u = load;
    for (int m = 0; m < grid.nodes(); ++m)
      if (grid.where(grid.place[at(m)])[2] == n) load[at(m)] = Eigen::Array4d(0.2, 0.1, -1.0, 0.0);
    SolveOptions options;
    options.tolerance = 1e-5;
    iterations[at(s)] = solver.solve(load, u, options).iterations;
  }
  EXPECT_GT(iterations[0], 3);
  EXPECT_LE(iterations[1], iterations[0] + 2);
}

/// Mean shift of the nodes in the middle of a square plate of n x n x thick cells, under 1 Pa.
double plate_middle(int n, int thick, bool is_clamped) {
  const CellGrid grid = full(n, n, thick);
  std::vector<std::uint8_t> held(at(grid.nodes()), 0);
  CellSolver<3>::Vector load(at(grid.nodes()) + 1, kNothing), u = load;
  for (int m = 0; m < grid.nodes(); ++m) {
    const auto [i, j, k] = grid.where(grid.place[at(m)]);
    const bool is_x = i == 0 || i == n, is_y = j == 0 || j == n;
    if (is_clamped && (is_x || is_y)) held[at(m)] = 7;
    if (!is_clamped && is_x) held[at(m)] |= 6;
    if (!is_clamped && is_y) held[at(m)] |= 5;
    if (k == thick) load[at(m)][2] = (is_x ? 0.5 : 1.0) * (is_y ? 0.5 : 1.0);  // 1 Pa, cells of 1 m
  }
  elastic_solver(grid, held).solve(load, u);
  double sum = 0.0;
  for (int k = 0; k <= thick; ++k) sum += u[at(grid.number[at(grid.place_of(n / 2, n / 2, k))])][2];
  return sum / (thick + 1);
}

double bending_stiffness(double h) {
  return kResin.modulus_Pa * h * h * h / (12.0 * (1.0 - kResin.poisson * kResin.poisson));
}

// Navier's series for a supported plate (Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, art. 30) with the
// shear of a thick one: for q sin(pi m x/a) sin(pi n y/a), s = pi^2 (m^2 + n^2)/a^2, the middle plane sinks by
// (1 + s h^2 (8 - 3 nu)/(40 (1 - nu))) times the thin plate's (Love, Mathematical Theory of Elasticity, art. 299-312;
// both from memory). Off the middle plane w changes by -nu/(1 - nu) s z^2/2 of itself.
TEST(CellSolver, BendsASupportedPlate) {
  const auto exact = [](int cells, int thick) {
    const double a = cells, h = thick, nu = kResin.poisson;
    double z_sq = 0.0, sum = 0.0;
    for (int k = 0; k <= thick; ++k) z_sq += (k - 0.5 * h) * (k - 0.5 * h) / (thick + 1);
    for (int m = 1; m < 60; m += 2)
      for (int n = 1; n < 60; n += 2) {
        const double r = m * m + n * n, s = pi * pi * r / (a * a), sign = ((m + n) / 2) % 2 == 1 ? 1.0 : -1.0;
        sum += sign / (m * n * r * r) *
               (1.0 + s * h * h * (8.0 - 3.0 * nu) / (40.0 * (1.0 - nu)) - nu / (1.0 - nu) * s * 0.5 * z_sq);
      }
    return 16.0 * a * a * a * a / (std::pow(pi, 6) * bending_stiffness(h)) * sum;
  };
  // a/h = 16: what is left is the mesh in the plane, of order 2: (1/16)^2 = 0.4 % and a
  // quarter of it.
  const double one = plate_middle(16, 1, false) / exact(16, 1) - 1.0;
  const double two = plate_middle(32, 2, false) / exact(32, 2) - 1.0;
  EXPECT_NEAR(one, 0.0, 0.004);
  EXPECT_NEAR(two, 0.0, 0.0015);
}

// Clamped: 0.00126 q a^4 / D for a thin plate (the same, art. 44). Shear adds 19 % at h/a = 0.1 (Mindlin plates,
// 0.00150 against 0.001265: from memory), so h^2 and 1.9 % at h/a = 1/32.
TEST(CellSolver, BendsAClampedPlate) {
  const double thin = 0.001265 * std::pow(32.0, 4) / bending_stiffness(1.0);
  EXPECT_NEAR(plate_middle(32, 1, true) / thin, 1.019, 0.02);
}

TEST(CellSolver, GivesTheSameBitsForAnyNumberOfThreads) {
  const CellGrid grid = odd_shape(27);  // loops of the smoother go over one colour, an eighth of the nodes
  ASSERT_GT(grid.nodes() / 8, kFewNodes);
  const auto solve = [&](int threads) {
    omp_set_num_threads(threads);
    CellSolver<3> solver = elastic_solver(grid, base_held(grid));
    CellSolver<3>::Vector load(at(grid.nodes()) + 1, kNothing), u = load;
    for (int n = 0; n < grid.nodes(); ++n) load[at(n)] = Eigen::Array4d(1.0, n % 7, -n % 3, 0.0);
    solver.solve(load, u);
    omp_set_num_threads(1);
    return u;
  };
  const auto one = solve(1), two = solve(2), three = solve(3);
  int differ = 0;
  for (std::size_t n = 0; n < one.size(); ++n) differ += (one[n] != two[n]).any() || (one[n] != three[n]).any() ? 1 : 0;
  EXPECT_EQ(differ, 0);
  EXPECT_GT(one[one.size() / 2].abs().sum(), 0.0);
}

// Heat: a bar held at one end and with a film at the other, of two materials: resistances in a row.
TEST(CellSolver, ConductsThroughTwoMaterialsInARow) {
  const CellGrid grid = grid_of(4, 4, 60, [](int, int, int k) {
    return k < 24 ? Shares{1.0F, 0.0F} : Shares{0.0F, 1.0F};
  });
  std::vector<double> film(at(grid.nodes()), 0.0);
  CellSolver<1>::Vector load(at(grid.nodes()) + 1, 0.0), t = load;
  for (int n = 0; n < grid.nodes(); ++n) {
    const auto [i, j, k] = grid.where(grid.place[at(n)]);
    if (k < 60) continue;
    film[at(n)] = 5.0 * (i % 4 == 0 ? 0.5 : 1.0) * (j % 4 == 0 ? 0.5 : 1.0);  // 5 W/K a cell face
    load[at(n)] = film[at(n)] * 100.0;                                        // other side at 100
  }
  CellSolver<1> solver(grid, {conductance_W_K(0.2), conductance_W_K(0.9)}, base_held(grid, 1), film);
  SolveOptions options;
  options.tolerance = 1e-11;
  solver.solve(load, t, options);
  const double flux = 100.0 / (24 / 0.2 + 36 / 0.9 + 1 / 5.0);
  const auto value = [&](int i, int j, int k) { return t[at(grid.number[at(grid.place_of(i, j, k))])]; };
  EXPECT_NEAR(value(2, 1, 24), flux * 24 / 0.2, 1e-5);  // exact but for the solver: condition about 60^2
  EXPECT_NEAR(value(0, 4, 60), 100.0 - flux / 5.0, 1e-5);
}

TEST(CellSolver, SaysSoIfItDoesNotConverge) {
  const CellGrid grid = full(8, 8, 8);
  CellSolver<3> solver = elastic_solver(grid, base_held(grid));
  CellSolver<3>::Vector load(at(grid.nodes()) + 1, kNothing), u = load;
  load[at(grid.nodes() - 1)][0] = 1.0;
  SolveOptions options;
  options.most_iterations = 1;
  EXPECT_THROW(solver.solve(load, u, options), Error);
  try {
    solver.solve(load, u, options);
  } catch (const Error& error) {
    EXPECT_NE(error.fault().allowed.find("1.0e-07"), std::string::npos) << error.what();
  }
}

TEST(CellSolver, StopsWhenAsked) {
  const CellGrid grid = full(8, 8, 8);
  CellSolver<3> solver = elastic_solver(grid, base_held(grid));
  CellSolver<3>::Vector load(at(grid.nodes()) + 1, kNothing), u = load;
  load[at(grid.nodes() - 1)][0] = 1.0;
  int asked = 0;
  SolveOptions options;
  options.stop = [&] { return ++asked == 2; };
  EXPECT_THROW(solver.solve(load, u, options), Stopped);
  EXPECT_EQ(asked, 2);
}

}  // namespace
}  // namespace pellicle::mould
