// Where does a section come to rest under one pressure, and was the way there stable?
#pragma once

#include "solver/imprint/section/section_model.h"

#include <Eigen/SparseCholesky>

#include <vector>

namespace pellicle::imprint {

struct NewtonReport {
  bool converged = false;
  bool unstable = false;          ///< the tangent was not positive definite somewhere on the way
  std::vector<double> residuals;  ///< norm of the forces left over, over that of the gas
};

/// Minimises the energy by Newton's method with line search; a tangent that is not positive definite is shifted until
/// it is, so that the way leads on downhill.
class SectionNewton {
 public:
  explicit SectionNewton(const SectionModel& model);
  NewtonReport rest(Eigen::VectorXd& u, double pressure_Pa, int most_iterations);

 private:
  bool step(const Eigen::VectorXd& slope, Eigen::VectorXd& direction);  ///< false if it had to be shifted
  /// Share of the way to go, 0 if the energy does not fall along it.
  double line_search(const Eigen::VectorXd& u, const Eigen::VectorXd& way, double pressure_Pa, double energy,
                     double expected, bool reach_out) const;

  const SectionModel& model_;
  Eigen::SparseMatrix<double> tangent_;
  // Nodes are numbered column by column, so the band is narrow and needs no reordering.
  Eigen::SimplicialLDLT<Eigen::SparseMatrix<double>, Eigen::Lower, Eigen::NaturalOrdering<int>> ldlt_;
};

}  // namespace pellicle::imprint
