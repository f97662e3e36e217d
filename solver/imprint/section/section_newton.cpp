// Where does a section come to rest under one pressure, and was the way there stable?
#include "solver/imprint/section/section_newton.h"

#include "mesh/check.h"

#include <algorithm>
#include <cmath>

namespace pellicle::imprint {
namespace {

using Eigen::VectorXd;

constexpr double kSettled = 1e-8;  // forces left over, as a share of the load; round-off of the penalties is near 1e-10
constexpr double kPlaceRoundOff = 16.0 * 1.1e-16;  // of the section's length: what a gap can be told to
constexpr double kLeastShift = 1e-6;  // of the modulus along x: a large one turns the way into a steepest descent
constexpr int kShifts = 30;
constexpr int kRounds = 20;        // of places closing and opening within a step; mostly 1 to 6 are needed
constexpr int kBisections = 30;    // of the way to the least energy in such a round
constexpr double kMostTurn = 0.7;  // of an element in a step: gradients linear in the way mean little beyond
constexpr int kSoftHalvings = 5, kHalvings = 24;
constexpr double kRoundOff = 1e-11;  // of the energy, as a share: gains below it cannot be told

/// Largest share of a way, halved from `share` on, at which the energy is lower than at its beginning; 0: none.
template <class Energy>
double share_that_falls(const Energy& at, double share, int halvings, bool reach_out) {
  const double energy = at(0.0);
  double found = at(share);
  for (int k = 0; !(found <= energy + kRoundOff * std::abs(energy)); ++k) {
    if (k == halvings) return 0.0;
    share *= 0.5;
    found = at(share);
  }
  // A shifted tangent takes short steps where the energy falls ever faster: go on as long as it falls.
  for (int k = 0; reach_out && share >= 1.0 && k < halvings; ++k) {
    const double further = at(2.0 * share);
    if (!(further < found)) break;
    share *= 2.0;
    found = further;
  }
  return share;
}

}  // namespace

SectionNewton::SectionNewton(const SectionModel& model)
    : model_(model), apart_(model.pattern()), tangent_(apart_), factor_(apart_) {
  double stiffness_sq = 0.0;
  for (const ContactPlace& place : model.places()) stiffness_sq += std::pow(model.stiffness(place), 2);
  round_off_ = kPlaceRoundOff * (model.grid().x_m.back() - model.grid().x_m.front()) * std::sqrt(stiffness_sq);
}

// With all gaps linear in the way, energy is quadratic but for places that close or open: its least value is found by
// Newton's method on that, whose ways are cut where the energy is least along them.
VectorXd SectionNewton::way_to_rest(bool& stable) {
  const auto& places = model_.places();
  const std::size_t count = places.size();
  std::vector<char> closed(count);
  std::vector<double> gap(count), rate(count);
  for (std::size_t k = 0; k < count; ++k) gap[k] = near_[k].gap_m;
  VectorXd way = VectorXd::Zero(apart_slope_.size());
  double shift = 0.0;
  for (int round = 0; round < kRounds; ++round) {
    for (std::size_t k = 0; k < count; ++k) closed[k] = gap[k] < 0.0;
    VectorXd slope = apart_slope_;
    std::copy_n(apart_.valuePtr(), apart_.nonZeros(), tangent_.valuePtr());
    model_.add_pushes(near_, closed, slope, &tangent_);
    shift = factor(shift);
    const VectorXd further = -factor_.solve(slope) - way;
    bool same = true;
    for (std::size_t k = 0; k < count; ++k) {
      rate[k] = near_[k].normal.dot(model_.moved(further, places[k]));
      same = same && (places[k].held || (gap[k] + rate[k] < 0.0) == (closed[k] != 0));
    }
    const double share = same ? 1.0 : share_of_least(way, further, gap, rate, shift);
    way += share * further;
    for (std::size_t k = 0; k < count; ++k) gap[k] += share * rate[k];
    if (same) break;
  }
  stable = shift == 0.0;
  return way;
}

double SectionNewton::factor(double shift) {
  bool sound = factor_.factor(tangent_, shift);
  for (int k = 0; k < kShifts && !sound; ++k) {
    shift = shift == 0.0 ? kLeastShift * model_.grid().layer.back().ax_Pa : 8.0 * shift;
    sound = factor_.factor(tangent_, shift);
  }
  ensure(sound, "a large enough shift makes any tangent positive definite");
  return shift;
}

double SectionNewton::share_of_least(const VectorXd& way, const VectorXd& further, const std::vector<double>& gap,
                                     const std::vector<double>& rate, double shift) const {
  const VectorXd stiff = apart_.selfadjointView<Eigen::Lower>() * further + shift * further;
  const double first = apart_slope_.dot(further) + way.dot(stiff), second = further.dot(stiff);
  const auto slope = [&](double share) {
    double sum = first + share * second;
    for (std::size_t k = 0; k < gap.size(); ++k) {
      const ContactPlace& place = model_.places()[k];
      if (!place.held) sum += model_.stiffness(place) * std::min(0.0, gap[k] + share * rate[k]) * rate[k];
    }
    return sum;
  };
  if (slope(1.0) <= 0.0) return 1.0;
  double low = 0.0, high = 1.0;
  for (int k = 0; k < kBisections; ++k) (slope(0.5 * (low + high)) > 0.0 ? high : low) = 0.5 * (low + high);
  return high;
}

double SectionNewton::line_search(const VectorXd& u, const VectorXd& way, double pressure_Pa, const Bearing& aim,
                                  bool reach_out) const {
  const double first = std::min(1.0, kMostTurn / model_.largest_gradient(way));
  const auto soft = [&](double share) { return model_.soft_energy(u + share * way, pressure_Pa, aim); };
  const double share = share_that_falls(soft, first, kSoftHalvings, reach_out);
  if (share > 0.0) return share;
  const auto full = [&](double part) { return model_.energy(u + part * way, pressure_Pa); };
  return share_that_falls(full, first, kHalvings, reach_out);
}

NewtonReport SectionNewton::rest(VectorXd& u, const VectorXd& start, double pressure_Pa, int most_iterations) {
  NewtonReport report;
  model_.look(u, near_);
  Bearing bearing = model_.bearing(u, start, near_);
  u += start;
  if (!std::isfinite(model_.energy(u, pressure_Pa))) return report;
  const double load = model_.gas_slope(u, pressure_Pa).norm();
  for (int iteration = 0;; ++iteration) {
    model_.assemble_apart(u, pressure_Pa, bearing, apart_slope_, apart_, near_);
    VectorXd slope = apart_slope_;
    std::vector<char> closed(near_.size());
    for (std::size_t k = 0; k < near_.size(); ++k) closed[k] = near_[k].gap_m < 0.0;
    model_.add_pushes(near_, closed, slope, nullptr);
    report.residuals.push_back(slope.norm() / load);
    report.converged = slope.norm() < kSettled * load + round_off_;
    if (report.converged || iteration == most_iterations) return report;
    bool stable = true;
    const VectorXd way = way_to_rest(stable);
    report.unstable = report.unstable || !stable;
    const Bearing aim = model_.bearing(u, way, near_);
    const double share = line_search(u, way, pressure_Pa, aim, !stable);
    if (share == 0.0) return report;
    u += share * way;
    bearing.mean_Pa += std::min(share, 1.0) * (aim.mean_Pa - bearing.mean_Pa);
    bearing.push_Pa += std::min(share, 1.0) * (aim.push_Pa - bearing.push_Pa);
  }
}

}  // namespace pellicle::imprint
