// How is a symmetric matrix with a narrow envelope factored fast, and is it positive definite?
#include "solver/imprint/section/envelope_cholesky.h"

#include "mesh/check.h"

#include <algorithm>

// Compiled for several instruction sets, of which the program takes the best its processor has; contraction is off, so
// all give the same bits.
#if defined(__x86_64__)
#define PELLICLE_FOR_EACH_SET __attribute__((target_clones("avx512f", "avx2", "default")))
#else
#define PELLICLE_FOR_EACH_SET
#endif

namespace pellicle::imprint {
namespace {

using Eigen::Index;
using Eigen::Map;

std::size_t at(Index k) { return static_cast<std::size_t>(k); }

typedef double Eight __attribute__((vector_size(64)));

constexpr int kRow = 8;

/// Row k of eight columns of the factor is `theirs` + 8 k, eight rows of it are `mine` + 8 k. Takes what the `before`
/// columns before these eight contribute off `mine`, then these eight themselves, from the one that is `skip` on, and
/// divides by their pivots. `own`: the pivots are found here; false if one is not above 0. Every sum is made in the
/// order of k. Four columns at a time, so that one addition need not wait for the last.
PELLICLE_FOR_EACH_SET bool eliminate(const double* theirs, double* mine, Index before, int skip, double* inverse,
                                     bool own) {
  Eight sum[kRow];
  for (int first = 0; first < kRow; first += 4) {
    Eight s0{}, s1{}, s2{}, s3{};
    for (Index k = 0; k < before; ++k) {
      Eight m;
      __builtin_memcpy(&m, mine + kRow * k, sizeof m);
      const double* const t = theirs + kRow * k + first;
      s0 += t[0] * m, s1 += t[1] * m, s2 += t[2] * m, s3 += t[3] * m;
    }
    sum[first] = s0, sum[first + 1] = s1, sum[first + 2] = s2, sum[first + 3] = s3;
  }
  theirs += kRow * before, mine += kRow * before;
#pragma GCC unroll 8
  for (int c = 0; c < kRow; ++c) {
    if (c < skip) continue;
    Eight here;
    __builtin_memcpy(&here, mine + kRow * (c - skip), sizeof here);
    here -= sum[c];
    if (own) {
      if (!(here[c] > 0.0)) return false;
      inverse[c] = 1.0 / __builtin_sqrt(here[c]);
    }
    here *= inverse[c];
    __builtin_memcpy(mine + kRow * (c - skip), &here, sizeof here);
    const double* const t = theirs + kRow * (c - skip);
#pragma GCC unroll 8
    for (int later = c + 1; later < kRow; ++later) sum[later] += t[later] * here;
  }
  return true;
}

}  // namespace

EnvelopeCholesky::EnvelopeCholesky(const Eigen::SparseMatrix<double>& lower) : size_(lower.rows()) {
  const Index count = (size_ + kLanes - 1) / kLanes;
  for (Index block = 0; block < count; ++block) blocks_.push_back({block * kLanes, 0, 0});
  for (Index column = 0; column < lower.cols(); ++column) {
    for (Eigen::SparseMatrix<double>::InnerIterator entry(lower, column); entry; ++entry) {
      Index& first = blocks_[at(entry.row() / kLanes)].first;
      first = std::min(first, column);
    }
  }
  Index start = 0;
  for (Index block = 0; block < count; ++block) {
    blocks_[at(block)].start = start;
    start += ((block + 1) * kLanes - blocks_[at(block)].first) * kLanes;
  }
  values_.resize(at(start));
  inverse_.resize(at(count * kLanes));
  blocks_.push_back({size_, start, 0});  // one past the last
  std::vector<std::vector<Entry>> of_block(at(count));
  for (Index column = 0; column < lower.cols(); ++column) {
    for (Eigen::SparseMatrix<double>::InnerIterator entry(lower, column); entry; ++entry) {
      const Index block = entry.row() / kLanes;
      of_block[at(block)].push_back({std::ssize(first_block_), place(block, column) + entry.row() % kLanes});
      first_block_.push_back(column / kLanes);
    }
  }
  last_.resize(first_block_.size());
  for (Index block = 0; block < count; ++block) {
    blocks_[at(block)].entries = std::ssize(entries_);
    entries_.insert(entries_.end(), of_block[at(block)].begin(), of_block[at(block)].end());
  }
  blocks_.back().entries = std::ssize(entries_);
}

Index EnvelopeCholesky::place(Index block, Index column) const {
  return blocks_[at(block)].start + (column - blocks_[at(block)].first) * kLanes;
}

Index EnvelopeCholesky::first_changed(const Eigen::SparseMatrix<double>& lower, double shift) const {
  if (shift != shift_) return 0;
  const auto changed = std::mismatch(last_.begin(), last_.end(), lower.valuePtr()).first - last_.begin();
  return std::min(sound_, changed == std::ssize(last_) ? sound_ : first_block_[at(changed)]);
}

bool EnvelopeCholesky::factor(const Eigen::SparseMatrix<double>& lower, double shift) {
  ensure(lower.isCompressed() && lower.nonZeros() == std::ssize(last_), "a matrix is factored in its own pattern");
  sound_ = first_changed(lower, shift);
  std::copy_n(lower.valuePtr(), last_.size(), last_.begin());
  shift_ = shift;
  for (; sound_ < std::ssize(blocks_) - 1; ++sound_) {
    fill_block(sound_);
    if (!factor_block(sound_)) return false;
  }
  return true;
}

void EnvelopeCholesky::fill_block(Index block) {
  const Block &own = blocks_[at(block)], &next = blocks_[at(block + 1)];
  std::fill(values_.begin() + own.start, values_.begin() + next.start, 0.0);
  for (Index k = own.entries; k < next.entries; ++k)
    values_[at(entries_[at(k)].spot)] = last_[at(entries_[at(k)].from)];
  for (Index row = block * kLanes; row < (block + 1) * kLanes; ++row) {
    double& diagonal = values_[at(place(block, row) + row % kLanes)];
    diagonal = row < size_ ? diagonal + shift_ : 1.0;
  }
}

bool EnvelopeCholesky::factor_block(Index block) {
  const Index first = blocks_[at(block)].first;
  for (Index other = first / kLanes; other <= block; ++other) {
    const Index from = std::max(first, blocks_[at(other)].first), theirs = other * kLanes;
    const auto skip = static_cast<int>(std::max(first - theirs, Index{0}));
    if (!eliminate(&values_[at(place(other, from))], &values_[at(place(block, from))],
                   std::max(theirs - from, Index{0}), skip, &inverse_[at(theirs)], other == block))
      return false;
  }
  return true;
}

Eigen::VectorXd EnvelopeCholesky::solve(const Eigen::VectorXd& right) const {
  const Index count = std::ssize(blocks_) - 1;
  Eigen::ArrayXd x = Eigen::ArrayXd::Zero(count * kLanes);
  x.head(size_) = right.array();
  for (Index block = 0; block < count; ++block) {
    const Index own = block * kLanes;
    Lanes left = x.segment<kLanes>(own);
    for (Index k = blocks_[at(block)].first; k < own; ++k) {
      left -= x[k] * Map<const Lanes>(&values_[at(place(block, k))]);
    }
    for (Index k = 0; k < kLanes; ++k) {
      x[own + k] = left[k] * inverse_[at(own + k)];
      left -= x[own + k] * Map<const Lanes>(&values_[at(place(block, own + k))]);
    }
  }
  for (Index block = count - 1; block >= 0; --block) {
    const Index own = block * kLanes;
    for (Index k = kLanes - 1; k >= 0; --k) {
      const double* below = &values_[at(place(block, own + k))];
      for (Index r = k + 1; r < kLanes; ++r) x[own + k] -= below[r] * x[own + r];
      x[own + k] *= inverse_[at(own + k)];
    }
    const Lanes mine = x.segment<kLanes>(own);
    for (Index k = blocks_[at(block)].first; k < own; ++k) {
      x[k] -= (mine * Map<const Lanes>(&values_[at(place(block, k))])).sum();
    }
  }
  return x.head(size_);
}

}  // namespace pellicle::imprint
