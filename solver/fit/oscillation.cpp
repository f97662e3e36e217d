// Which modes, network and shift does a table of G' and G'' call for, few enough for a card?
#include "solver/fit/oscillation.h"

#include "mesh/check.h"
#include "solver/fit/least_squares.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>

namespace pellicle::fit {
namespace {

constexpr std::size_t kFewest = 6;
constexpr double kLeastDecades = 1.0;
constexpr double kSameTemperature_K = 0.75;  // an oven holds no better
constexpr double kDip = 0.1;                 // G' may scatter by so much from one frequency to the next
constexpr int kModes = 3;                    // beside the glass: kMostModes of an element
constexpr TimeWindow kForming{0.05, 100.0};  // from the touch to the set part, s
constexpr double kPerDecade = 3.0;           // coarser grids ripple by 2 %; none below zero keeps finer ones from noise

[[noreturn]] void refuse(std::string found, std::string allowed, std::string advice) {
  throw Error({Fault::Kind::kCase, "table of G' and G''", std::move(found), std::move(allowed), std::move(advice)});
}

/// Temperatures of the table, rising; those an oven cannot tell apart are one.
std::vector<double> temperatures_of(std::span<const DynamicPoint> points) {
  std::vector<double> all, apart;
  for (const DynamicPoint& p : points) all.push_back(p.temperature_K);
  std::sort(all.begin(), all.end());
  for (const double T : all)
    if (apart.empty() || T - apart.back() > kSameTemperature_K) apart.push_back(T);
  return apart;
}

void check_points(std::span<const DynamicPoint> points, const std::vector<double>& temperatures_K) {
  if (points.size() < kFewest)
    refuse(fmt::format("{} points", points.size()), fmt::format("{} or more", kFewest), "A sweep has five a decade");
  for (const DynamicPoint& p : points)
    for (const double number : {p.angular_frequency_per_s, p.storage_Pa, p.loss_Pa, p.temperature_K})
      if (!(number > 0.0) || !std::isfinite(number))
        refuse(fmt::format("{:g} at {:.4g} 1/s", number, p.angular_frequency_per_s), "numbers above 0",
               "Leave out points the instrument could not read");
  for (const double T : temperatures_K) {
    std::vector<DynamicPoint> sweep;
    for (const DynamicPoint& p : points)
      if (std::abs(p.temperature_K - T) <= kSameTemperature_K) sweep.push_back(p);
    std::sort(sweep.begin(), sweep.end(), [](const DynamicPoint& a, const DynamicPoint& b) {
      return a.angular_frequency_per_s < b.angular_frequency_per_s;
    });
    for (std::size_t i = 1; i < sweep.size(); ++i)
      if (sweep[i].storage_Pa < (1.0 - kDip) * sweep[i - 1].storage_Pa)
        refuse(fmt::format("G' falling from {:.4g} to {:.4g} MPa at {:.4g} 1/s and {:.1f} °C",
                           1e-6 * sweep[i - 1].storage_Pa, 1e-6 * sweep[i].storage_Pa, sweep[i].angular_frequency_per_s,
                           T - 273.15),
               "G' that rises with the frequency",
               "The specimen slipped, tore or changed: leave that sweep out, or measure it again with less strain");
  }
}

/// Frequencies at the reference temperature.
std::vector<double> reduced_of(std::span<const DynamicPoint> points, const sheet::TimeShift& shift) {
  std::vector<double> reduced;
  for (const DynamicPoint& p : points) reduced.push_back(p.angular_frequency_per_s * shift.factor(p.temperature_K));
  return reduced;
}

ModesFit all_modes(std::span<const DynamicPoint> points, const sheet::TimeShift& shift) {
  const std::vector<double> w = reduced_of(points, shift);
  const auto [low, high] = std::minmax_element(w.begin(), w.end());
  // Beyond the ends of the data a mode is seen by its tail alone: half a decade and no more.
  return fit_modes(points, shift, {0.3 / *high, 3.0 / *low, kPerDecade, true});
}

sheet::TimeShift shift_of(double reference_K, double c1, double c2_K, double limit_K) {
  return {reference_K, c1, c2_K, limit_K, sheet::smooth_activation_J_mol(reference_K, c1, c2_K, limit_K)};
}

/// C1, and C2 where three temperatures tell it, that lay the sweeps on one set of modes.
sheet::TimeShift found_shift(std::span<const DynamicPoint> points, const sheet::TimeShift& start, bool both,
                             double coldest_K) {
  const double least_K = start.reference_K - std::min(coldest_K, start.limit_K) + 5.0;  // the pole stays below both
  const auto shift = [&](const Eigen::VectorXd& p) {
    const double c2_K = both ? least_K + std::exp(p[1]) : start.c2_K;
    return shift_of(start.reference_K, std::exp(p[0]), c2_K, start.limit_K);
  };
  const auto residuals = [&](const Eigen::VectorXd& p) -> Eigen::VectorXd {
    const sheet::TimeShift now = shift(p);
    const ModesFit fit = all_modes(points, now);
    Eigen::VectorXd off(2 * static_cast<Eigen::Index>(points.size()));
    Eigen::Index row = 0;
    for (const DynamicPoint& point : points) {
      const double w = point.angular_frequency_per_s * now.factor(point.temperature_K);
      const sheet::DynamicModulus g = sheet::dynamic_modulus(fit.modes, w);
      off[row++] = (g.storage_Pa + fit.network_Pa) / point.storage_Pa - 1.0;
      off[row++] = g.loss_Pa / point.loss_Pa - 1.0;
    }
    return off;
  };
  Eigen::VectorXd p(both ? 2 : 1);
  p[0] = std::log(start.c1);
  if (both) p[1] = std::log(std::max(5.0, start.c2_K - least_K));
  return shift(least_squares(residuals, p).at);
}

/// What the few modes give at the points, and how far they are off within their window.
void compare(std::span<const DynamicPoint> points, OscillationFit& fit) {
  const std::vector<double> w = reduced_of(points, fit.shift);
  double sum = 0.0;
  int counted = 0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    sheet::DynamicModulus g = sheet::dynamic_modulus(fit.modes, w[i]);
    g.storage_Pa += fit.network_Pa;
    fit.few.push_back(g);
    fit.in_window.push_back(1.0 / w[i] >= fit.window.from_s && 1.0 / w[i] <= fit.window.to_s);
    if (!fit.in_window.back()) continue;
    sum += std::pow(g.storage_Pa / points[i].storage_Pa - 1.0, 2) + std::pow(g.loss_Pa / points[i].loss_Pa - 1.0, 2);
    counted += 2;
  }
  fit.rms_few = counted > 0 ? std::sqrt(sum / counted) : 0.0;
}

}  // namespace

OscillationFit fit_oscillation(std::span<const DynamicPoint> points, const sheet::TimeShift& given) {
  const std::vector<double> T = temperatures_of(points);
  check_points(points, T);
  const double middle_K = 0.5 * (T.front() + T.back());
  OscillationFit fit{};
  fit.reference_K = *std::min_element(
      T.begin(), T.end(), [&](double a, double b) { return std::abs(a - middle_K) < std::abs(b - middle_K); });
  if (fit.reference_K <= given.limit_K)
    refuse(fmt::format("{:.1f} °C, at or below the glass transition of the card, {:.1f} °C", fit.reference_K - 273.15,
                       given.limit_K - 273.15),
           "sweeps of the hot sheet", "Measure where the sheet is formed, or name the right card in --like");
  fit.shift = sheet::with_reference(given, fit.reference_K);
  fit.shift_source = T.size() == 1 ? ShiftSource::kGiven : T.size() == 2 ? ShiftSource::kOneNumber : ShiftSource::kBoth;
  if (T.size() > 1) fit.shift = found_shift(points, fit.shift, fit.shift_source == ShiftSource::kBoth, T.front());
  const std::vector<double> w = reduced_of(points, fit.shift);
  const auto [low, high] = std::minmax_element(w.begin(), w.end());
  if (std::log10(*high / *low) < kLeastDecades)
    refuse(fmt::format("{:.2g} decades of frequency", std::log10(*high / *low)),
           fmt::format("{:g} or more, temperatures counted", kLeastDecades),
           "Sweep from 0.1 to 100 1/s, or at more temperatures");
  ModesFit all = all_modes(points, fit.shift);
  fit.rms_full = all.rms_misfit;
  // Few modes stand for times that were measured, and that forming takes.
  fit.window = {std::max(kForming.from_s, 0.5 / *high), std::min(kForming.to_s, 2.0 / *low)};
  if (fit.window.to_s < 10.0 * fit.window.from_s)
    refuse(fmt::format("frequencies from {:.3g} to {:.3g} 1/s at {:.1f} °C", *low, *high, fit.reference_K - 273.15),
           "a decade between 0.01 and 20 1/s", "A sheet is formed in 0.05 to 100 s: measure slower, or hotter");
  const ModesFit few = merged(all, kModes, fit.window);
  fit.modes = few.modes;
  const double left_Pa = few.network_Pa + sheet::relaxation_modulus_Pa(few.modes, 1.0);
  fit.network_Pa = std::max(few.network_Pa, kLeastNetwork * left_Pa);
  if (few.network_Pa < fit.network_Pa)
    fit.remarks.push_back(fmt::format("the data show no network; {:.0f} % of what is left after 1 s is taken for one",
                                      100.0 * kLeastNetwork));
  if (fit.window.to_s < kForming.to_s)
    fit.remarks.push_back(
        fmt::format("nothing was measured slower than {:.3g} s: what is left then stays for good", fit.window.to_s));
  compare(points, fit);
  return fit;
}

}  // namespace pellicle::fit
