// Where does a section come to rest under one pressure, and was the way there stable?
#include "solver/imprint/section/section_newton.h"

#include "mesh/check.h"

#include <cmath>

namespace pellicle::imprint {
namespace {

constexpr double kSettled = 1e-8;  // forces left over, as a share of the load; round-off of the penalties is near 1e-10
constexpr double kLeastShift = 1e-6;  // of the modulus along x: a large one turns the way into a steepest descent
constexpr int kHalvings = 24;
constexpr double kArmijo = 1e-4;     // least share of the expected gain, the usual choice
constexpr double kRoundOff = 1e-11;  // of the energy, as a share: gains below it cannot be told

}  // namespace

SectionNewton::SectionNewton(const SectionModel& model) : model_(model), tangent_(model.pattern()) {
  ldlt_.analyzePattern(tangent_);
}

bool SectionNewton::step(const Eigen::VectorXd& slope, Eigen::VectorXd& direction) {
  const auto sound = [&] { return ldlt_.info() == Eigen::Success && ldlt_.vectorD().minCoeff() > 0.0; };
  ldlt_.setShift(0.0);
  ldlt_.factorize(tangent_);
  const bool stable = sound();
  double shift = kLeastShift * model_.grid().layer.back().ax_Pa;
  for (int k = 0; k < 30 && !sound(); ++k, shift *= 8.0) {
    ldlt_.setShift(shift);
    ldlt_.factorize(tangent_);
  }
  ensure(sound(), "a large enough shift makes any tangent positive definite");
  direction = -ldlt_.solve(slope);
  return stable;
}

double SectionNewton::line_search(const Eigen::VectorXd& u, const Eigen::VectorXd& way, double pressure_Pa,
                                  double energy, double expected, bool reach_out) const {
  const auto at = [&](double share) { return model_.energy(u + share * way, pressure_Pa); };
  double share = 1.0, found = at(share);
  for (int k = 0; !(found <= energy + kArmijo * share * expected + kRoundOff * std::abs(energy)); ++k) {
    if (k == kHalvings) return 0.0;
    share *= 0.5;
    found = at(share);
  }
  // A shifted tangent takes short steps where the energy falls ever faster: go on as long as it falls.
  for (int k = 0; reach_out && share >= 1.0 && k < kHalvings; ++k) {
    const double further = at(2.0 * share);
    if (!(further < found)) break;
    share *= 2.0;
    found = further;
  }
  return share;
}

NewtonReport SectionNewton::rest(Eigen::VectorXd& u, double pressure_Pa, int most_iterations) {
  NewtonReport report;
  Eigen::VectorXd slope, without, direction;
  model_.assemble(u, 0.0, without, tangent_);
  double energy = model_.assemble(u, pressure_Pa, slope, tangent_);
  if (!std::isfinite(energy)) return report;
  const double load = (slope - without).norm();
  for (int iteration = 0;; ++iteration) {
    report.residuals.push_back(slope.norm() / load);
    report.converged = report.residuals.back() < kSettled;
    if (report.converged || iteration == most_iterations) return report;
    const bool stable = step(slope, direction);
    report.unstable = report.unstable || !stable;
    const double share = line_search(u, direction, pressure_Pa, energy, slope.dot(direction), !stable);
    if (share == 0.0) return report;
    u += share * direction;
    energy = model_.assemble(u, pressure_Pa, slope, tangent_);
  }
}

}  // namespace pellicle::imprint
