// Which rubber-like law does a hot tensile curve call for? The simplest that the points bear.
#include "solver/fit/uniaxial_law.h"

#include "mesh/check.h"
#include "solver/fit/least_squares.h"
#include "solver/fit/relaxation_modes.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>

namespace pellicle::fit {
namespace {

constexpr std::size_t kFewest = 5;
constexpr double kLeastStretch = 1.2;  // below it every law is a straight line
constexpr double kMostStretch = 20.0;  // beyond it the column is a percentage
constexpr double kDip = 0.03;          // of the largest stress: more than reading by hand scatters

Eigen::Index at(std::size_t i) { return static_cast<Eigen::Index>(i); }

[[noreturn]] void refuse(std::string where, std::string found, std::string allowed, std::string advice) {
  throw Error({Fault::Kind::kCase, std::move(where), std::move(found), std::move(allowed), std::move(advice)});
}

/// Points of a loading curve, the unstretched one left out.
std::vector<PullPoint> checked(std::span<const PullPoint> points) {
  std::vector<PullPoint> kept;
  double largest_Pa = 0.0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    const PullPoint& p = points[i];
    const std::string where = fmt::format("tensile curve, point {}", i + 1);
    if (!(p.stretch >= 1.0 && p.stretch <= kMostStretch))
      refuse(where, fmt::format("a stretch of {:g}", p.stretch), fmt::format("1 to {:g}", kMostStretch),
             "stretch is length over first length, strain is that less 1");
    if (p.stretch == 1.0) continue;
    if (!(p.nominal_stress_Pa > 0.0) || !std::isfinite(p.nominal_stress_Pa))
      refuse(where, fmt::format("a stress of {:.4g} MPa at a stretch of {:.4g}", 1e-6 * p.nominal_stress_Pa, p.stretch),
             "above 0 where the strip is stretched", "Subtract what the load cell shows unloaded, and leave slack out");
    if (!kept.empty() && p.stretch <= kept.back().stretch)
      refuse(where, fmt::format("a stretch of {:.4g} after {:.4g}", p.stretch, kept.back().stretch), "growing stretch",
             "Give the loading part of one test, in its order");
    kept.push_back(p);
    largest_Pa = std::max(largest_Pa, p.nominal_stress_Pa);
  }
  if (kept.size() < kFewest)
    refuse("tensile curve", fmt::format("{} stretched points", kept.size()), fmt::format("{} or more", kFewest),
           "Read more points off the curve, evenly along it");
  double highest_Pa = 0.0;
  for (const PullPoint& p : kept) {
    if (p.nominal_stress_Pa < highest_Pa - kDip * largest_Pa)
      refuse(
          "tensile curve",
          fmt::format("a stress falling from {:.4g} to {:.4g} MPa at a stretch of {:.4g}", 1e-6 * highest_Pa,
                      1e-6 * p.nominal_stress_Pa, p.stretch),
          "a stress that rises with the stretch",
          "A strip that yields or necks is too cold for a rubber-like law: test hotter, or leave out what follows the "
          "neck or the tear");
    highest_Pa = std::max(highest_Pa, p.nominal_stress_Pa);
  }
  if (kept.back().stretch < kLeastStretch)
    refuse("tensile curve", fmt::format("a largest stretch of {:.4g}", kept.back().stretch),
           fmt::format("{:g} or more", kLeastStretch), "Pull further: forming stretches the sheet by half and more");
  return kept;
}

double nominal_Pa(const sheet::Polymer& law, double l1, double l2) {
  return std::visit([&](const auto& l) { return l.principal(l1, l2).w1_Pa; }, law);
}

/// Where a law stops stiffening, pulled one way or both ways, up to a stretch; empty: nowhere.
std::string weakness(const sheet::Polymer& law, double most) {
  constexpr int kSteps = 200;
  struct Way {
    const char* words;
    double (*other)(double);
  };
  constexpr std::array<Way, 3> ways{{{"one way", [](double l) { return 1.0 / std::sqrt(l); }},
                                     {"both ways", [](double l) { return l; }},
                                     {"one way at kept width", [](double) { return 1.0; }}}};
  for (const Way& way : ways) {
    double last_Pa = 0.0;
    for (int i = 1; i <= kSteps; ++i) {
      const double l = 1.0 + (most - 1.0) * i / kSteps, now_Pa = nominal_Pa(law, l, way.other(l));
      if (!(now_Pa > last_Pa)) return fmt::format("it gives way when stretched {} by {:.3g}", way.words, l);
      last_Pa = now_Pa;
    }
  }
  return {};
}

/// Stress of one Ogden term of 1 Pa under uniaxial pull: l^(a-1) - l^(-a/2-1).
double ogden_column(double l, double alpha) { return std::pow(l, alpha - 1.0) - std::pow(l, -0.5 * alpha - 1.0); }

/// Two terms of Ogden, exponents from several starts: one above 1, one below 0 or above 1. mu has the sign of alpha.
std::optional<sheet::Ogden> fit_ogden(std::span<const PullPoint> points) {
  constexpr double kLargest = 12.0;  // exponents
  Eigen::VectorXd measured(at(points.size()));
  for (std::size_t i = 0; i < points.size(); ++i) measured[at(i)] = points[i].nominal_stress_Pa;
  const double scale_Pa = measured.maxCoeff();
  const auto alphas = [&](const Eigen::VectorXd& p, double sign) {
    return std::array{std::clamp(std::exp(p[0]), 0.3, kLargest), sign * std::clamp(std::exp(p[1]), 0.3, kLargest)};
  };
  const auto matrix = [&](const std::array<double, 2>& alpha) {
    Eigen::MatrixXd a(at(points.size()), 2);
    for (std::size_t i = 0; i < points.size(); ++i)
      for (Eigen::Index k = 0; k < 2; ++k) {
        const double n = alpha[static_cast<std::size_t>(k)];
        a(at(i), k) = (n < 0.0 ? -1.0 : 1.0) * ogden_column(points[i].stretch, n);
      }
    return a;
  };
  struct Start {
    double first, second, sign;
  };
  std::optional<sheet::Ogden> best;
  double least = std::numeric_limits<double>::infinity();
  for (const Start start : {Start{1.5, 5.0, 1.0}, Start{2.0, 8.0, 1.0}, Start{1.5, 2.0, -1.0}, Start{4.0, 2.0, -1.0}}) {
    const auto residuals = [&](const Eigen::VectorXd& p) -> Eigen::VectorXd {
      const Eigen::MatrixXd a = matrix(alphas(p, start.sign));
      return (a * non_negative_least_squares(a, measured) - measured) / scale_Pa;
    };
    try {
      const Minimum found = least_squares(residuals, Eigen::Vector2d(std::log(start.first), std::log(start.second)));
      if (found.rms >= least) continue;
      least = found.rms;
      const auto alpha = alphas(found.at, start.sign);
      const Eigen::VectorXd mu = non_negative_least_squares(matrix(alpha), measured);
      sheet::Ogden law{2, {}, {}};
      for (std::size_t k = 0; k < 2; ++k)
        law.mu_Pa[k] = (alpha[k] < 0.0 ? -1.0 : 1.0) * mu[at(k)], law.alpha[k] = alpha[k];
      best = law;
    } catch (const Error&) {
      // This start leads nowhere; another may. None at all is told by the caller.
    }
  }
  return best;
}

LawFit judged(std::string kind, sheet::Polymer law, int numbers, std::span<const PullPoint> points) {
  LawFit fit{std::move(kind), std::move(law), numbers, 0.0, 0.0, {}, {}};
  double largest_Pa = 0.0, sum = 0.0;
  for (const PullPoint& p : points) {
    fit.stress_Pa.push_back(nominal_Pa(fit.law, p.stretch, 1.0 / std::sqrt(p.stretch)));
    const double off_Pa = fit.stress_Pa.back() - p.nominal_stress_Pa;
    sum += off_Pa * off_Pa;
    largest_Pa = std::max(largest_Pa, p.nominal_stress_Pa);
  }
  const auto n = static_cast<double>(points.size()), k = static_cast<double>(numbers);
  fit.rms_misfit = std::sqrt(sum / n) / largest_Pa;
  fit.criterion =
      2.0 * n * std::log(std::max(fit.rms_misfit, kReading)) + 2.0 * k + 2.0 * k * (k + 1.0) / (n - k - 1.0);
  if (!(sheet::small_strain_shear_modulus_Pa(fit.law) > 0.0))
    fit.why_not = "it has no modulus above 0 at small stretch";
  else
    fit.why_not = weakness(fit.law, points.back().stretch);
  return fit;
}

}  // namespace

LawFits fit_laws(std::span<const PullPoint> all) {
  const std::vector<PullPoint> points = checked(all);
  const auto bears = [&](int numbers) { return points.size() > 2 * static_cast<std::size_t>(numbers); };
  std::vector<TensilePoint> pulled;
  for (const PullPoint& p : points) pulled.push_back({p.stretch, p.nominal_stress_Pa, 1.0});  // the rate means nothing
  const auto without_modes = [&](NetworkKind kind) {
    return fit_tensile(pulled, TensileRate::kNominal, kind, 0).network;
  };
  std::vector<LawFit> fits{judged("neo-hookean", without_modes(NetworkKind::kNeoHookean), 1, points)};
  if (bears(3)) fits.push_back(judged("yeoh", without_modes(NetworkKind::kYeoh), 3, points));
  if (bears(4))
    if (const auto law = fit_ogden(points)) fits.push_back(judged("ogden", *law, 4, points));
  return {points, std::move(fits)};
}

const LawFit& LawFits::best() const {
  const auto better = [](const LawFit& a, const LawFit& b) {
    return a.why_not.empty() != b.why_not.empty() ? a.why_not.empty() : a.criterion < b.criterion;
  };
  return *std::min_element(fits.begin(), fits.end(), better);
}

}  // namespace pellicle::fit
