// How is a symmetric matrix with a narrow envelope factored fast, and is it positive definite?
#pragma once

#include <Eigen/Core>
#include <Eigen/SparseCore>

#include <vector>

namespace pellicle::imprint {

/// Cholesky factor L L^T within the envelope: from the first entry of a row that is not zero to the diagonal, where
/// nothing fills in from outside (Jennings 1966; from memory). For unknowns numbered along a strip. Rows are kept in
/// blocks of eight with one envelope, side by side, so that a processor computes them together.
class EnvelopeCholesky {
 public:
  explicit EnvelopeCholesky(const Eigen::SparseMatrix<double>& lower);  ///< pattern, compressed; lower triangle, n x n
  /// False, and the factor is of no use, if lower + shift * identity is not positive definite. Rows before the first
  /// that is not as it was the last time are kept.
  bool factor(const Eigen::SparseMatrix<double>& lower, double shift);
  Eigen::VectorXd solve(const Eigen::VectorXd& right) const;  ///< [n]

 private:
  static constexpr Eigen::Index kLanes = 8;
  using Lanes = Eigen::Array<double, kLanes, 1>;
  struct Block {
    Eigen::Index first, start, entries;  ///< first column; where it stands in values_ and in entries_
  };
  struct Entry {
    Eigen::Index from, spot;  ///< in the matrix and in values_
  };
  Eigen::Index place(Eigen::Index block, Eigen::Index column) const;  ///< in values_, of a column's lanes
  Eigen::Index first_changed(const Eigen::SparseMatrix<double>& lower, double shift) const;  ///< block
  void fill_block(Eigen::Index block);
  bool factor_block(Eigen::Index block);

  Eigen::Index size_;
  std::vector<Block> blocks_;              ///< and one past the last
  std::vector<Entry> entries_;             ///< of the matrix, block by block
  std::vector<Eigen::Index> first_block_;  ///< that an entry of the matrix may change
  std::vector<double> last_;               ///< entries of the matrix last factored
  double shift_ = 0.0;
  Eigen::Index sound_ = 0;                ///< blocks that hold its factor
  std::vector<double> values_, inverse_;  ///< inverse_: of the diagonal
};

}  // namespace pellicle::imprint
