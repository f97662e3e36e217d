// Which numbers fit a measurement best? Linear with none below zero, and non-linear; small and dense.
#pragma once

#include <Eigen/Core>

#include <functional>

namespace pellicle::fit {

/// x >= 0 with the least |A x - b|. Lawson & Hanson, Solving Least Squares Problems, 1974, chapter 23 (from memory).
/// Throws Error (solution) if no end is found.
Eigen::VectorXd non_negative_least_squares(const Eigen::MatrixXd& a, const Eigen::VectorXd& b);

struct Minimum {
  Eigen::VectorXd at;
  double rms;  ///< root mean square of the residuals
};
/// Least sum of squares of `residuals` near `start`: Levenberg-Marquardt with a Jacobian of central differences.
/// Parameters should be of the order of one: logarithms of what they mean. Marquardt, J. SIAM 11 (1963) 431 (citation
/// from memory). Throws Error (solution) if it does not settle.
Minimum least_squares(const std::function<Eigen::VectorXd(const Eigen::VectorXd&)>& residuals, Eigen::VectorXd start);

}  // namespace pellicle::fit
