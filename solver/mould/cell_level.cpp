// How is one grid of the multigrid solver applied and smoothed?
#include "solver/mould/cell_level.h"

#include <Eigen/LU>

#include <algorithm>
#include <utility>

namespace pellicle::mould {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

}  // namespace

template <int C, class T>
Bricks<C, T>::Bricks(const std::array<Eigen::Matrix<double, 8 * C, 8 * C>, 2>& matrices) {
  for (std::size_t m = 0; m < 2; ++m) {
    std::array<Eigen::Matrix<double, C, C>, 27> sums;
    sums.fill(Eigen::Matrix<double, C, C>::Zero());
    for (int a = 0; a < 8; ++a)
      for (int b = 0; b < 8; ++b) {
        const Eigen::Matrix<double, C, C> block = matrices[m].template block<C, C>(C * a, C * b);
        between[m][at(a)][at(b)] = Lane::block_of(block);
        sums[at(neighbour_in_cell(a, b))] += block;
      }
    for (std::size_t k = 0; k < 27; ++k) all_alike[m][k] = Lane::block_of(sums[k]);
  }
}

template <int C>
Level<C>::Level(CellGrid cells) : grid(std::move(cells)) {
  for (int dz = -1; dz <= 1; ++dz)
    for (int dy = -1; dy <= 1; ++dy)
      for (int dx = -1; dx <= 1; ++dx)
        to_neighbour[at(neighbour(dx, dy, dz))] = dx + dy * grid.step[1] + dz * grid.step[2];
  for (int n = 0; n < nodes(); ++n) {
    const auto [i, j, k] = grid.where(grid.place[at(n)]);
    colours[at((i & 1) + 2 * (j & 1) + 4 * (k & 1))].push_back(n);
  }
  held.assign(at(nodes()), 0);
  u.assign(at(nodes()) + 1, Lane::nothing());
  b = r = u;
}

template <int C>
template <class T>
typename Lanes<C, T>::Value Level<C>::fine_product(const Bricks<C, T>& bricks, int place,
                                                   const typename Lanes<C, T>::Value* values) const {
  using Wide = Lanes<C, T>;
  std::array<typename Wide::Value, 27> near;
  for (std::size_t k = 0; k < 27; ++k) near[k] = values[grid.number[at(place + to_neighbour[k])]];
  std::array<Shares, 8> shares;
  for (int c = 0; c < 8; ++c) shares[at(c)] = grid.share[at(place - grid.to_corner(c))];
  const bool alike = std::all_of(shares.begin(), shares.end(), [&](const Shares& s) { return s == shares[0]; });
  typename Wide::Block sums = Wide::no_block();
  for (std::size_t m = 0; m < 2; ++m) {
    if (alike) {
      if (shares[0][m] == 0.0F) continue;
      typename Wide::Block part = Wide::no_block();
      for (std::size_t k = 0; k < 27; ++k) Wide::add_product(part, bricks.all_alike[m][k], near[k]);
      Wide::add(sums, part, static_cast<T>(shares[0][m]));
      continue;
    }
    for (int c = 0; c < 8; ++c) {
      const T share = static_cast<T>(shares[at(c)][m]);
      if (share == T(0)) continue;
      typename Wide::Block part = Wide::no_block();
      for (int d = 0; d < 8; ++d)
        Wide::add_product(part, bricks.between[m][at(c)][at(d)], near[at(neighbour_in_cell(c, d))]);
      Wide::add(sums, part, share);
    }
  }
  return Wide::total(sums);
}

template <int C>
template <class T>
typename Lanes<C, T>::Value Level<C>::product(const Bricks<C, T>& bricks, int node,
                                              const typename Lanes<C, T>::Value* values) const {
  using Wide = Lanes<C, T>;
  const int place = grid.place[at(node)];
  typename Wide::Value result = Wide::nothing();
  if (stencil.empty()) {
    result = fine_product<T>(bricks, place, values);
  } else if constexpr (std::is_same_v<T, float>) {
    typename Wide::Block sums = Wide::no_block();
    const std::array<Block, 27>& row_blocks = stencil[at(node)];
    for (std::size_t k = 0; k < 27; ++k)
      Wide::add_product(sums, row_blocks[k], values[grid.number[at(place + to_neighbour[k])]]);
    result = Wide::total(sums);
  }
  if (!diagonal.empty()) result += static_cast<T>(diagonal[at(node)]) * values[node];
  return result;
}

template <int C>
void Level<C>::row(const Bricks<C, float>& bricks, int node, std::array<Block, 27>& blocks) const {
  if (!stencil.empty()) {
    blocks = stencil[at(node)];
    return;
  }
  blocks.fill(Lane::no_block());
  for (int c = 0; c < 8; ++c) {
    const Shares& s = grid.share[at(grid.place[at(node)] - grid.to_corner(c))];
    for (std::size_t m = 0; m < 2; ++m) {
      if (s[m] == 0.0F) continue;
      for (int d = 0; d < 8; ++d) Lane::add(blocks[at(neighbour_in_cell(c, d))], bricks.between[m][at(c)][at(d)], s[m]);
    }
  }
}

template <int C>
void Level<C>::invert_own_blocks(const Bricks<C, float>& bricks) {
  inverse.resize(at(nodes()));
#pragma omp parallel for schedule(static) if (nodes() > kFewNodes)
  for (int n = 0; n < nodes(); ++n) {
    std::array<Block, 27> blocks;
    row(bricks, n, blocks);
    Eigen::Matrix<double, C, C> own = Lane::matrix_of(blocks[at(neighbour(0, 0, 0))]);
    if (!diagonal.empty()) own.diagonal().array() += diagonal[at(n)];
    for (int d = 0; d < C; ++d)
      if ((held[at(n)] >> d) & 1) own.row(d).setZero(), own.col(d).setZero(), own(d, d) = 1.0;
    Eigen::Matrix<double, C, C> inverted = own.inverse();
    for (int d = 0; d < C; ++d)
      if ((held[at(n)] >> d) & 1) inverted(d, d) = 0.0;
    inverse[at(n)] = Lane::block_of(inverted);
  }
}

template <int C>
void Level<C>::smooth(const Bricks<C, float>& bricks, bool backwards) {
  for (int c = 0; c < 8; ++c) {
    const std::vector<int>& colour = colours[at(backwards ? 7 - c : c)];
    const int count = static_cast<int>(colour.size());
#pragma omp parallel for schedule(static) if (count > kFewNodes)
    for (int i = 0; i < count; ++i) {
      const int n = colour[at(i)];
      const Value left = b[at(n)] - product<float>(bricks, n, u.data());
      Block sums = Lane::no_block();
      Lane::add_product(sums, inverse[at(n)], left);
      u[at(n)] += Lane::total(sums);
    }
  }
}

template <int C>
void Level<C>::find_residual(const Bricks<C, float>& bricks) {
#pragma omp parallel for schedule(static) if (nodes() > kFewNodes)
  for (int n = 0; n < nodes(); ++n) {
    Value left = b[at(n)] - product<float>(bricks, n, u.data());
    hold<C, float>(left, held[at(n)]);
    r[at(n)] = left;
  }
}

template struct Bricks<1, float>;
template struct Bricks<1, double>;
template struct Bricks<3, float>;
template struct Bricks<3, double>;
template struct Level<1>;
template struct Level<3>;
template double Level<1>::product<double>(const Bricks<1, double>&, int, const double*) const;
template Lanes<3, double>::Value Level<3>::product<double>(const Bricks<3, double>&, int,
                                                           const Lanes<3, double>::Value*) const;

}  // namespace pellicle::mould
