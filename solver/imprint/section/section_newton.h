// Where does a section come to rest under one pressure, and was the way there stable?
#pragma once

#include "solver/imprint/section/envelope_cholesky.h"
#include "solver/imprint/section/section_model.h"

#include <vector>

namespace pellicle::imprint {

struct NewtonReport {
  bool converged = false;
  bool unstable = false;          ///< the tangent was not positive definite somewhere on the way
  std::vector<double> residuals;  ///< norm of the forces left over, over that of the gas
};

/// Minimises the energy by Newton's method with line search; docs/theory/section.md, "To rest". Element pressures and
/// pushes of the mould are unknowns of their own, and which places push is settled within each step. A tangent that is
/// not positive definite is shifted until it is, so that the way leads on downhill.
class SectionNewton {
 public:
  explicit SectionNewton(const SectionModel& model);
  /// From u + start, a guess, to rest.
  NewtonReport rest(Eigen::VectorXd& u, const Eigen::VectorXd& start, double pressure_Pa, int most_iterations);

 private:
  Eigen::VectorXd way_to_rest(bool& stable);  ///< not stable: it had to be shifted
  double factor(double shift);  ///< the tangent, by the least shift of a ladder from this one on that does
  /// Of `further`, to go beyond `way` to where the energy is least, gaps being linear.
  double share_of_least(const Eigen::VectorXd& way, const Eigen::VectorXd& further, const std::vector<double>& gap,
                        const std::vector<double>& rate, double shift) const;
  double line_search(const Eigen::VectorXd& u, const Eigen::VectorXd& way, double pressure_Pa, const Bearing& aim,
                     bool reach_out) const;  ///< share of the way to go, 0 if the energy does not fall along it

  const SectionModel& model_;
  Eigen::SparseMatrix<double> apart_, tangent_;  ///< without and with the pushes of places that are not held
  Eigen::VectorXd apart_slope_;
  std::vector<MouldCurve::Near> near_;
  EnvelopeCholesky factor_;  // unknowns are numbered column by column, so the envelope is narrow
  double round_off_ = 0.0;   ///< of the penalties: under a small load more than the share of it that is asked for
};

}  // namespace pellicle::imprint
