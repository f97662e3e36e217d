// How is a symmetric matrix with a narrow envelope factored fast, and is it positive definite?
#include "solver/imprint/section/envelope_cholesky.h"

#include <algorithm>
#include <cmath>

namespace pellicle::imprint {
namespace {

using Eigen::Index;
using Eigen::Map;

std::size_t at(Index k) { return static_cast<std::size_t>(k); }

}  // namespace

EnvelopeCholesky::EnvelopeCholesky(const Eigen::SparseMatrix<double>& lower) : size_(lower.rows()) {
  const Index count = (size_ + kLanes - 1) / kLanes;
  for (Index block = 0; block < count; ++block) blocks_.push_back({block * kLanes, 0});
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
}

Index EnvelopeCholesky::place(Index block, Index column) const {
  return blocks_[at(block)].start + (column - blocks_[at(block)].first) * kLanes;
}

bool EnvelopeCholesky::factor(const Eigen::SparseMatrix<double>& lower, double shift) {
  std::fill(values_.begin(), values_.end(), 0.0);
  for (Index column = 0; column < lower.cols(); ++column) {
    for (Eigen::SparseMatrix<double>::InnerIterator entry(lower, column); entry; ++entry) {
      const Index row = entry.row();
      values_[at(place(row / kLanes, column) + row % kLanes)] = entry.value() + (row == column ? shift : 0.0);
    }
  }
  const Index count = static_cast<Index>(blocks_.size());
  for (Index row = size_; row < count * kLanes; ++row) values_[at(place(count - 1, row) + row % kLanes)] = 1.0;
  for (Index block = 0; block < count; ++block) {
    if (!factor_block(block)) return false;
  }
  return true;
}

bool EnvelopeCholesky::factor_block(Index block) {
  const Index first = blocks_[at(block)].first, own = block * kLanes;
  for (Index column = first; column < own + kLanes; ++column) {
    const Index other = column / kLanes, from = std::max(first, blocks_[at(other)].first);
    const double* mine = &values_[at(place(block, from))];
    const double* theirs = &values_[at(place(other, from) + column % kLanes)];
    Lanes sum = Lanes::Zero();
    for (Index k = 0; k < (column - from) * kLanes; k += kLanes) sum += theirs[k] * Map<const Lanes>(mine + k);
    Map<Lanes> here(&values_[at(place(block, column))]);
    here -= sum;
    if (column >= own) {
      const double pivot = here[column - own];
      if (!(pivot > 0.0)) return false;
      inverse_[at(column)] = 1.0 / std::sqrt(pivot);
    }
    here *= inverse_[at(column)];
  }
  return true;
}

Eigen::VectorXd EnvelopeCholesky::solve(const Eigen::VectorXd& right) const {
  const Index count = static_cast<Index>(blocks_.size());
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
