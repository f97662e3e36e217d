// Why is the wall not as thick as predicted? Weighted least squares of one unknown each, docs/theory/comparison.md.
#include "solver/fit/thickness_causes.h"

#include "mesh/check.h"

#include <algorithm>
#include <cmath>

namespace pellicle::fit {
namespace {

constexpr double kDeviations = 2.0;    ///< of a band
constexpr double kPattern = 2.0;       ///< times the noise: more is no chance
constexpr double kPart = 0.8;          ///< of the misfit left at most, to explain in part
constexpr double kSamePattern = 0.95;  ///< cosine of two patterns: above, no hand measurement tells them apart

/// r and its weight 1/sigma^2 at each place, (1) and (2).
struct Residuals {
  std::vector<double> r, weight;
  double weights = 0.0;

  explicit Residuals(std::span<const Wall> walls) {
    for (const Wall& w : walls) {
      ensure(w.predicted_m > 0.0 && w.measured_m > 0.0 && w.error_m >= 0.0, "walls are positive");
      r.push_back(std::log(w.measured_m / w.predicted_m));
      const double error = w.error_m / w.measured_m;
      weight.push_back(1.0 / (error * error + kModelError * kModelError));
      weights += weight.back();
    }
  }
  std::size_t size() const { return r.size(); }
  /// Sum of w a b over the places.
  template <class A, class B>
  double sum(const A& a, const B& b) const {
    double total = 0.0;
    for (std::size_t i = 0; i < size(); ++i) total += weight[i] * a(i) * b(i);
    return total;
  }
  double rms_of(double chi_sq) const { return std::sqrt(chi_sq / weights); }
  /// Of what is left after one fitted number; with one place nothing is.
  double rms_left(double chi_sq) const {
    const double n = static_cast<double>(size());
    return size() > 1 ? std::sqrt(chi_sq / weights * n / (n - 1.0)) : 0.0;
  }
  double noise() const { return std::sqrt(static_cast<double>(size()) / weights); }
  /// The errors as told, or larger ones if the scatter says so.
  double scale(double chi_sq) const {
    return size() > 1 ? std::max(1.0, std::sqrt(chi_sq / (static_cast<double>(size()) - 1.0))) : 1.0;
  }
};

double one(std::size_t) { return 1.0; }

CauseVerdict verdict_of(const Cause& c, double se_told, double most_steps, double rms_before, double noise) {
  if (c.response < kRunNoise || kDeviations * se_told >= most_steps) return CauseVerdict::kSilent;
  if (std::min(std::abs(c.low), std::abs(c.high)) > most_steps && c.low * c.high > 0.0) return CauseVerdict::kTooFar;
  if (c.left <= kPattern * noise) return CauseVerdict::kExplains;
  return c.left <= kPart * rms_before ? CauseVerdict::kInPart : CauseVerdict::kDoesNot;
}

}  // namespace

Misfit misfit_of(std::span<const Wall> walls) {
  ensure(!walls.empty(), "there is a wall to compare");
  const Residuals all(walls);
  const auto r = [&](std::size_t i) { return all.r[i]; };
  Misfit m;
  double sum_m = 0.0, sum_sq_m2 = 0.0, worst_m = -1.0;
  for (std::size_t i = 0; i < walls.size(); ++i) {
    const double off_m = walls[i].predicted_m - walls[i].measured_m;
    sum_m += off_m, sum_sq_m2 += off_m * off_m;
    if (std::abs(off_m) > worst_m) worst_m = std::abs(off_m), m.worst = i;
  }
  m.mean_m = sum_m / static_cast<double>(walls.size());
  m.rms_m = std::sqrt(sum_sq_m2 / static_cast<double>(walls.size()));
  m.rms = all.rms_of(all.sum(r, r));
  const double mean = all.sum(r, one) / all.weights;
  const auto rest = [&](std::size_t i) { return all.r[i] - mean; };
  const double chi_sq = all.sum(rest, rest), se = all.scale(chi_sq) / std::sqrt(all.weights);
  m.factor = std::exp(mean);
  m.factor_low = std::exp(mean - kDeviations * se);
  m.factor_high = std::exp(mean + kDeviations * se);
  m.left = all.rms_left(chi_sq);
  m.noise = all.noise();
  m.differs = m.factor_low > 1.0 || m.factor_high < 1.0;
  m.has_pattern = walls.size() > 2 && m.left > kPattern * m.noise;
  return m;
}

std::vector<Cause> causes_of(std::span<const Wall> walls, std::span<const Step> steps) {
  ensure(!walls.empty(), "there is a wall to compare");
  const Residuals all(walls);
  const auto r = [&](std::size_t i) { return all.r[i]; };
  const double rms_before = all.rms_of(all.sum(r, r));
  std::vector<std::vector<double>> patterns;
  std::vector<double> sizes;
  std::vector<Cause> causes;
  for (const Step& step : steps) {
    ensure(step.predicted_m.size() == walls.size() && step.most_steps > 0.0, "a step tells every wall");
    std::vector<double>& s = patterns.emplace_back();
    for (std::size_t i = 0; i < walls.size(); ++i) s.push_back(std::log(step.predicted_m[i] / walls[i].predicted_m));
    const auto at = [&](std::size_t i) { return s[i]; };
    const double ss = sizes.emplace_back(all.sum(at, at));
    Cause cause;
    cause.name = step.name;
    cause.response = all.rms_of(ss);
    double se_told = INFINITY;
    if (ss > 0.0) {
      cause.steps = all.sum(at, r) / ss;
      const auto rest = [&](std::size_t i) { return all.r[i] - cause.steps * s[i]; };
      const double chi_sq = all.sum(rest, rest);
      se_told = 1.0 / std::sqrt(ss);
      cause.left = all.rms_left(chi_sq);
      cause.low = cause.steps - kDeviations * se_told * all.scale(chi_sq);
      cause.high = cause.steps + kDeviations * se_told * all.scale(chi_sq);
    } else {
      cause.left = rms_before;
    }
    cause.verdict = verdict_of(cause, se_told, step.most_steps, rms_before, all.noise());
    causes.push_back(std::move(cause));
  }
  for (std::size_t a = 0; a < causes.size(); ++a)
    for (std::size_t b = 0; b < causes.size(); ++b) {
      if (a == b || causes[a].verdict == CauseVerdict::kSilent || causes[b].verdict == CauseVerdict::kSilent) continue;
      const double dot =
          all.sum([&](std::size_t i) { return patterns[a][i]; }, [&](std::size_t i) { return patterns[b][i]; });
      if (std::abs(dot) > kSamePattern * std::sqrt(sizes[a] * sizes[b])) causes[a].looks_like.push_back(causes[b].name);
    }
  return causes;
}

}  // namespace pellicle::fit
