// How is one grid of the multigrid solver applied and smoothed? Numbers a node and blocks between nodes, in lanes.
#pragma once

#include "solver/mould/cell_grid.h"

#include <Eigen/Core>

#include <array>
#include <cstdint>
#include <vector>

namespace pellicle::mould {

/// Values and 3 x 3 blocks in lanes of four, or plain numbers.
template <int C, class T>
struct Lanes;

template <class T>
struct Lanes<3, T> {
  using Value = Eigen::Array<T, 4, 1>;  ///< lane 3 is 0
  using Block = std::array<Value, 3>;   ///< rows
  static Value nothing() { return Value::Zero(); }
  static Block no_block() { return {nothing(), nothing(), nothing()}; }
  static Block block_of(const Eigen::Matrix<double, 3, 3>& m) {
    Block b = no_block();
    for (int r = 0; r < 3; ++r)
      b[static_cast<std::size_t>(r)].template head<3>() = m.row(r).transpose().array().template cast<T>();
    return b;
  }
  static Eigen::Matrix<double, 3, 3> matrix_of(const Block& b) {
    Eigen::Matrix<double, 3, 3> m;
    for (int r = 0; r < 3; ++r)
      m.row(r) = b[static_cast<std::size_t>(r)].template head<3>().template cast<double>().matrix().transpose();
    return m;
  }
  static void add(Block& to, const Block& b, T scale) {
    for (std::size_t r = 0; r < 3; ++r) to[r] += scale * b[r];
  }
  /// Rows of products, summed up only at the end.
  static void add_product(Block& sums, const Block& b, const Value& u) {
    for (std::size_t r = 0; r < 3; ++r) sums[r] += b[r] * u;
  }
  static Value total(const Block& sums) { return {sums[0].sum(), sums[1].sum(), sums[2].sum(), T(0)}; }
  static double dot(const Value& a, const Value& b) { return static_cast<double>((a * b).sum()); }
  static double component(const Value& v, int d) { return static_cast<double>(v[d]); }
  static void set_component(Value& v, int d, double x) { v[d] = static_cast<T>(x); }
};

template <class T>
struct Lanes<1, T> {
  using Value = T;
  using Block = T;
  static Value nothing() { return T(0); }
  static Block no_block() { return T(0); }
  static Block block_of(const Eigen::Matrix<double, 1, 1>& m) { return static_cast<T>(m(0, 0)); }
  static Eigen::Matrix<double, 1, 1> matrix_of(Block b) { return Eigen::Matrix<double, 1, 1>(static_cast<double>(b)); }
  static void add(Block& to, Block b, T scale) { to += scale * b; }
  static void add_product(Block& sums, Block b, Value u) { sums += b * u; }
  static Value total(Block sums) { return sums; }
  static double dot(Value a, Value b) { return static_cast<double>(a) * static_cast<double>(b); }
  static double component(Value v, int) { return static_cast<double>(v); }
  static void set_component(Value& v, int, double x) { v = static_cast<T>(x); }
};

/// The element matrices as blocks between corners, and what they add up to where all eight cells are alike.
template <int C, class T>
struct Bricks {
  using Lane = Lanes<C, T>;
  std::array<std::array<std::array<typename Lane::Block, 8>, 8>, 2> between;  ///< [material][corner][corner]
  std::array<std::array<typename Lane::Block, 27>, 2> all_alike;              ///< [material][neighbour]

  explicit Bricks(const std::array<Eigen::Matrix<double, 8 * C, 8 * C>, 2>& matrices);
};

/// Neighbour number of a node that lies (dx, dy, dz) away, each -1 to 1.
constexpr int neighbour(int dx, int dy, int dz) { return (dx + 1) + 3 * (dy + 1) + 9 * (dz + 1); }
/// ... of corner b of a cell, seen from its corner a.
constexpr int neighbour_in_cell(int a, int b) {
  return neighbour((b & 1) - (a & 1), ((b >> 1) & 1) - ((a >> 1) & 1), ((b >> 2) & 1) - ((a >> 2) & 1));
}

/// One grid. The finest has no stencils: `bricks` and the cells' shares stand for them.
template <int C>
struct Level {
  using Lane = Lanes<C, float>;
  using Value = typename Lane::Value;
  using Block = typename Lane::Block;

  CellGrid grid;
  std::array<int, 27> to_neighbour{};          ///< in places
  std::vector<std::uint8_t> held;              ///< bit d: component d is 0
  std::array<std::vector<int>, 8> colours;     ///< nodes of one do not touch each other
  std::vector<std::array<Block, 27>> stencil;  ///< coarse grids only
  std::vector<double> diagonal;                ///< may be empty
  std::vector<Block> inverse;                  ///< of each node's own block; rows and columns of what is held are 0
  std::vector<Value> u, b, r;                  ///< one more than nodes, the last 0

  explicit Level(CellGrid cells);
  int nodes() const { return grid.nodes(); }

  /// (A u) at a node, without regard to what is held; `u` has one value more than nodes.
  template <class T>
  typename Lanes<C, T>::Value product(const Bricks<C, T>& bricks, int node,
                                      const typename Lanes<C, T>::Value* values) const;
  /// All blocks of a node's row, without the diagonal.
  void row(const Bricks<C, float>& bricks, int node, std::array<Block, 27>& blocks) const;
  void invert_own_blocks(const Bricks<C, float>& bricks);
  /// One sweep of Gauss-Seidel on A u = b.
  void smooth(const Bricks<C, float>& bricks, bool backwards);
  /// r = b - A u, 0 where held.
  void find_residual(const Bricks<C, float>& bricks);

 private:
  template <class T>
  typename Lanes<C, T>::Value fine_product(const Bricks<C, T>& bricks, int place,
                                           const typename Lanes<C, T>::Value* values) const;
};

/// A loop shorter than this is not worth other threads.
constexpr int kFewNodes = 2000;

template <int C, class T>
void hold(typename Lanes<C, T>::Value& v, std::uint8_t bits) {
  for (int d = 0; d < C; ++d)
    if ((bits >> d) & 1) Lanes<C, T>::set_component(v, d, 0.0);
}

}  // namespace pellicle::mould
