// Which numbers fit a measurement best?
#include "solver/fit/least_squares.h"

#include "solver/sheet/relaxation.h"

#include <Eigen/Cholesky>
#include <Eigen/QR>

#include <cmath>
#include <limits>
#include <string>
#include <vector>

namespace pellicle::fit {
namespace {

[[noreturn]] void give_up(const char* what, int steps) {
  throw Error({.kind = Fault::Kind::kSolution,
               .where = what,
               .found = "no end after " + std::to_string(steps) + " steps",
               .allowed = "a fit that settles",
               .advice = "Look for points far off the rest, or ask for fewer modes"});
}

/// Unconstrained, of the columns that are free; zero elsewhere.
Eigen::VectorXd of_free_columns(const Eigen::MatrixXd& a, const Eigen::VectorXd& b, const std::vector<bool>& is_free) {
  std::vector<Eigen::Index> columns;
  for (std::size_t j = 0; j < is_free.size(); ++j)
    if (is_free[j]) columns.push_back(static_cast<Eigen::Index>(j));
  Eigen::VectorXd x = Eigen::VectorXd::Zero(a.cols());
  if (columns.empty()) return x;
  const Eigen::VectorXd own = a(Eigen::all, columns).colPivHouseholderQr().solve(b);
  for (std::size_t i = 0; i < columns.size(); ++i) x[columns[i]] = own[static_cast<Eigen::Index>(i)];
  return x;
}

}  // namespace

Eigen::VectorXd non_negative_least_squares(const Eigen::MatrixXd& a, const Eigen::VectorXd& b) {
  const Eigen::Index n = a.cols();
  // Columns of one length, so that one tolerance serves them all.
  Eigen::VectorXd length = a.colwise().norm();
  for (double& l : length) l = l > 0.0 ? l : 1.0;
  const Eigen::MatrixXd scaled = a * length.cwiseInverse().asDiagonal();
  const double tolerance = 1e-12 * b.norm();  // some hundred roundings
  std::vector<bool> is_free(static_cast<std::size_t>(n), false);
  const auto bound = [&](Eigen::Index j) { return !is_free[static_cast<std::size_t>(j)]; };
  Eigen::VectorXd x = Eigen::VectorXd::Zero(n);
  const int most = 30 * static_cast<int>(n) + 30;
  for (int round = 0; round < most; ++round) {
    const Eigen::VectorXd gain = scaled.transpose() * (b - scaled * x);
    Eigen::Index best = -1;
    for (Eigen::Index j = 0; j < n; ++j)
      if (bound(j) && gain[j] > tolerance && (best < 0 || gain[j] > gain[best])) best = j;
    if (best < 0) return x.cwiseQuotient(length);
    is_free[static_cast<std::size_t>(best)] = true;
    while (true) {
      const Eigen::VectorXd next = of_free_columns(scaled, b, is_free);
      double share = 1.0;  // of the way to the first that would fall below zero
      Eigen::Index first = -1;
      for (Eigen::Index j = 0; j < n; ++j)
        if (!bound(j) && next[j] <= 0.0 && x[j] / (x[j] - next[j]) <= share) share = x[j] / (x[j] - next[j]), first = j;
      if (first < 0) {
        x = next;
        break;
      }
      x += share * (next - x);
      is_free[static_cast<std::size_t>(first)] = false;
      x[first] = 0.0;
      if (first == best && share == 0.0) return x.cwiseQuotient(length);  // its gain was rounding
    }
  }
  give_up("least squares with none below zero", most);
}

Minimum least_squares(const std::function<Eigen::VectorXd(const Eigen::VectorXd&)>& residuals, Eigen::VectorXd p) {
  constexpr int kMost = 500;            // steps: a fit of a few numbers settles within tens
  constexpr double kDifference = 1e-5;  // of parameters of the order of one: central differences good to 1e-10
  constexpr double kSettled = 1e-9;     // change of any parameter in one undamped step
  Eigen::VectorXd r = residuals(p);
  double damping = 1e-3;
  const auto minimum = [&] { return Minimum{p, std::sqrt(r.squaredNorm() / static_cast<double>(r.size()))}; };
  for (int i = 0; i < kMost; ++i) {
    Eigen::MatrixXd jacobian(r.size(), p.size());
    for (Eigen::Index j = 0; j < p.size(); ++j) {
      Eigen::VectorXd up = p, down = p;
      up[j] += kDifference, down[j] -= kDifference;
      jacobian.col(j) = (residuals(up) - residuals(down)) / (2.0 * kDifference);
    }
    // Entry by entry: a matrix product of Eigen would split its sums by the number of threads.
    const Eigen::MatrixXd normal = jacobian.transpose().lazyProduct(jacobian);
    const Eigen::VectorXd slope = jacobian.transpose() * r;
    const double least = 1e-12 * std::fmax(normal.diagonal().maxCoeff(), std::numeric_limits<double>::min());
    bool better = false;
    while (!better) {
      Eigen::MatrixXd damped = normal;
      damped.diagonal() += damping * normal.diagonal().cwiseMax(least);
      const Eigen::VectorXd by = -damped.ldlt().solve(slope);
      const Eigen::VectorXd next = residuals(p + by);
      better = next.squaredNorm() < r.squaredNorm();
      if (better) {
        const bool settled =
            by.cwiseAbs().maxCoeff() < kSettled || r.squaredNorm() - next.squaredNorm() < 1e-14 * r.squaredNorm();
        p += by;
        r = next;
        damping = std::fmax(0.1 * damping, 1e-12);
        if (settled) return minimum();
      } else {
        // Nothing betters it, however short the step: this is the minimum, to rounding.
        if (by.cwiseAbs().maxCoeff() < kSettled || damping > 1e12) return minimum();
        damping *= 10.0;
      }
    }
  }
  give_up("least squares", kMost);
}

}  // namespace pellicle::fit
