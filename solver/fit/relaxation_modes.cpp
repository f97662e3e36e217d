// Which modes, which network and which time-temperature shift say what was measured on the hot polymer?
#include "solver/fit/relaxation_modes.h"

#include "solver/fit/least_squares.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <optional>
#include <set>

namespace pellicle::fit {
namespace {

using sheet::RelaxationMode;

constexpr double kDust = 1e-12;  // of all moduli: what rounding leaves of a mode
constexpr double kNever_s = std::numeric_limits<double>::infinity();

Eigen::Index at(std::size_t i) { return static_cast<Eigen::Index>(i); }

[[noreturn]] void refuse(const std::string& where, const std::string& found, const char* allowed,
                         const char* advice = "") {
  throw Error({.kind = Fault::Kind::kCase, .where = where, .found = found, .allowed = allowed, .advice = advice});
}
void positive(double value, const char* what, std::size_t point) {
  if (!(value > 0.0) || !std::isfinite(value))
    refuse(fmt::format("{}, point {}", what, point + 1), fmt::format("{:g}", value), "a number above 0");
}

std::vector<double> times_of(const TimeGrid& grid) {
  positive(grid.shortest_s, "shortest relaxation time", 0);
  positive(grid.per_decade, "relaxation times a decade", 0);
  if (!(grid.longest_s >= grid.shortest_s))
    refuse("longest relaxation time", fmt::format("{:g} s", grid.longest_s), "the shortest or more");
  const double decades = std::log10(grid.longest_s / grid.shortest_s);
  const int steps = std::max(1, static_cast<int>(std::lround(decades * grid.per_decade)));
  std::vector<double> times;
  for (int k = 0; k <= steps; ++k) times.push_back(grid.shortest_s * std::pow(10.0, decades * k / steps));
  if (grid.with_network) times.push_back(kNever_s);
  return times;
}

/// Column k holds what a mode of 1 Pa gives, over the measured modulus: the fit wants ones.
ModesFit fit_relative(const Eigen::MatrixXd& relative, const std::vector<double>& times, std::size_t points) {
  const Eigen::VectorXd ones = Eigen::VectorXd::Ones(relative.rows());
  const Eigen::VectorXd g = non_negative_least_squares(relative, ones);
  ModesFit fit{{}, 0.0, 0.0, static_cast<int>(points)};
  fit.rms_misfit = std::sqrt((relative * g - ones).squaredNorm() / static_cast<double>(relative.rows()));
  for (std::size_t k = 0; k < times.size(); ++k) {
    if (g[at(k)] <= kDust * g.sum()) continue;
    if (std::isinf(times[k])) {
      fit.network_Pa = g[at(k)];
    } else {
      fit.modes.push_back({g[at(k)], times[k]});
    }
  }
  return fit;
}

double modulus_Pa(const ModesFit& fit, double time_s) {
  return fit.network_Pa + sheet::relaxation_modulus_Pa(fit.modes, time_s);
}

/// G(t) that few modes are held against.
struct Target {
  std::vector<double> times_s, modulus_Pa;
  double misfit(const ModesFit& fit) const {
    double sum = 0.0;
    for (std::size_t i = 0; i < times_s.size(); ++i) {
      const double off = fit::modulus_Pa(fit, times_s[i]) / modulus_Pa[i] - 1.0;
      sum += off * off;
    }
    return std::sqrt(sum / static_cast<double>(times_s.size()));
  }
};

/// One mode fewer, in every way there is; the one that costs least.
ModesFit one_fewer(const ModesFit& fit, const Target& target) {
  std::optional<ModesFit> best;
  const auto consider = [&](ModesFit candidate) {
    candidate.rms_misfit = target.misfit(candidate);
    if (!best || candidate.rms_misfit < best->rms_misfit) best = std::move(candidate);
  };
  for (std::size_t k = 0; k + 1 < fit.modes.size(); ++k) {
    ModesFit candidate = fit;
    RelaxationMode& kept = candidate.modes[k];
    const RelaxationMode& next = fit.modes[k + 1];
    const double sum = kept.modulus_Pa + next.modulus_Pa;
    kept.time_s = std::exp((kept.modulus_Pa * std::log(kept.time_s) + next.modulus_Pa * std::log(next.time_s)) / sum);
    kept.modulus_Pa = sum;
    candidate.modes.erase(candidate.modes.begin() + static_cast<std::ptrdiff_t>(k) + 1);
    consider(std::move(candidate));
  }
  ModesFit dropped = fit;
  dropped.modes.erase(dropped.modes.begin());
  consider(std::move(dropped));
  if (fit.network_Pa > 0.0) {
    ModesFit joined = fit;
    joined.network_Pa += fit.modes.back().modulus_Pa;
    joined.modes.pop_back();
    consider(std::move(joined));
  }
  return *best;
}

/// Moduli and times together, in logarithms.
ModesFit polished(const ModesFit& start, const Target& target) {
  const std::size_t n = start.modes.size();
  const bool network = start.network_Pa > 0.0;
  Eigen::VectorXd p(at(2 * n + (network ? 1 : 0)));
  for (std::size_t k = 0; k < n; ++k) {
    p[at(2 * k)] = std::log(start.modes[k].modulus_Pa);
    p[at(2 * k + 1)] = std::log(start.modes[k].time_s);
  }
  if (network) p[at(2 * n)] = std::log(start.network_Pa);
  const auto fit_of = [&](const Eigen::VectorXd& q) {
    ModesFit fit = start;
    for (std::size_t k = 0; k < n; ++k) fit.modes[k] = {std::exp(q[at(2 * k)]), std::exp(q[at(2 * k + 1)])};
    if (network) fit.network_Pa = std::exp(q[at(2 * n)]);
    return fit;
  };
  const Minimum found = least_squares(
      [&](const Eigen::VectorXd& q) {
        const ModesFit fit = fit_of(q);
        Eigen::VectorXd off(at(target.times_s.size()));
        for (std::size_t i = 0; i < target.times_s.size(); ++i)
          off[at(i)] = modulus_Pa(fit, target.times_s[i]) / target.modulus_Pa[i] - 1.0;
        return off;
      },
      p);
  ModesFit fit = fit_of(found.at);
  fit.rms_misfit = found.rms;
  return fit;
}

void sort_by_time(std::vector<RelaxationMode>& modes) {
  std::sort(modes.begin(), modes.end(), [](const auto& a, const auto& b) { return a.time_s < b.time_s; });
}

/// Time since the start of a test.
double time_at(double stretch, double rate_per_s, TensileRate kind) {
  return (kind == TensileRate::kHencky ? std::log(stretch) : stretch - 1.0) / rate_per_s;
}

/// Nominal stress of one mode of 1 Pa at rising stretches: N l - n/l^2 with N' = -(N - 1/l^2)/tau, n' = -(n - l)/tau.
/// Steps of 0.005 in ln l leave 1e-5 (second order).
std::vector<double> stress_of_mode(double time_s, std::span<const double> stretches, double rate_per_s,
                                   TensileRate kind) {
  constexpr double kLongest = 0.005;
  std::vector<double> stress;
  double along = 1.0, across = 1.0, last = 1.0;
  for (const double stretch : stretches) {
    const int steps = std::max(1, static_cast<int>(std::ceil(std::log(stretch / last) / kLongest)));
    const double grow = std::pow(stretch / last, 1.0 / steps);
    for (int i = 0; i < steps; ++i) {
      const double from = last, to = i + 1 == steps ? stretch : last * grow;
      const double step_s = time_at(to, rate_per_s, kind) - time_at(from, rate_per_s, kind);
      const sheet::StepWeights w = sheet::step_weights(step_s / time_s);
      along += w.w0 * (1.0 / (from * from) - along) + w.w1 * (1.0 / (to * to) - along);
      across += w.w0 * (from - across) + w.w1 * (to - across);
      last = to;
    }
    stress.push_back(along * stretch - across / (stretch * stretch));
  }
  return stress;
}

/// Points of one rate, as they came.
struct Test {
  double rate_per_s;
  std::vector<double> stretches;
  std::vector<std::size_t> rows;
};
std::vector<Test> tests_of(std::span<const TensilePoint> points) {
  std::vector<Test> tests;
  for (std::size_t i = 0; i < points.size(); ++i) {
    const TensilePoint& p = points[i];
    positive(p.rate_per_s, "rate of a tensile test", i);
    positive(p.nominal_stress_Pa, "stress of a tensile test", i);
    if (!(p.stretch > 1.0))
      refuse(fmt::format("stretch of a tensile test, point {}", i + 1), fmt::format("{:g}", p.stretch), "above 1");
    auto test = std::find_if(tests.begin(), tests.end(), [&](const Test& t) { return t.rate_per_s == p.rate_per_s; });
    if (test == tests.end()) test = tests.insert(tests.end(), Test{p.rate_per_s, {}, {}});
    if (!test->stretches.empty() && p.stretch <= test->stretches.back())
      refuse(fmt::format("stretch of a tensile test, point {}", i + 1), fmt::format("{:g}", p.stretch),
             "more than the point before it at the same rate", "Give the loading part only");
    test->stretches.push_back(p.stretch);
    test->rows.push_back(i);
  }
  return tests;
}

/// Columns: what one of each constant gives at every point, over the largest stress. Yeoh's c20 may be negative: twice,
/// with both signs.
Eigen::MatrixXd network_columns(std::span<const TensilePoint> points, NetworkKind kind) {
  Eigen::MatrixXd a(at(points.size()), kind == NetworkKind::kYeoh ? 4 : 1);
  for (std::size_t i = 0; i < points.size(); ++i) {
    const double l = points[i].stretch, across = 1.0 / std::sqrt(l);
    const auto stress = [&](const auto& law) { return law.principal(l, across).w1_Pa; };
    if (kind == NetworkKind::kNeoHookean) {
      a(at(i), 0) = stress(sheet::NeoHookean{1.0});
    } else {
      const double second = stress(sheet::Yeoh{0.0, 1.0, 0.0});
      a.row(at(i)) << stress(sheet::Yeoh{1.0, 0.0, 0.0}), second, -second, stress(sheet::Yeoh{0.0, 0.0, 1.0});
    }
  }
  return a;
}

}  // namespace

ModesFit fit_modes(std::span<const DynamicPoint> points, const sheet::TimeShift& shift, const TimeGrid& grid) {
  if (points.empty()) refuse("table of G' and G''", "no points", "one or more");
  const std::vector<double> times = times_of(grid);
  Eigen::MatrixXd relative(2 * at(points.size()), at(times.size()));
  for (std::size_t i = 0; i < points.size(); ++i) {
    const DynamicPoint& p = points[i];
    positive(p.angular_frequency_per_s, "angular frequency", i);
    positive(p.storage_Pa, "storage modulus", i);
    positive(p.loss_Pa, "loss modulus", i);
    positive(p.temperature_K, "temperature", i);
    const double reduced = p.angular_frequency_per_s * shift.factor(p.temperature_K);
    for (std::size_t k = 0; k < times.size(); ++k) {
      const RelaxationMode one{1.0, times[k]};
      const sheet::DynamicModulus g = sheet::dynamic_modulus({&one, 1}, reduced);
      relative(2 * at(i), at(k)) = g.storage_Pa / p.storage_Pa;
      relative(2 * at(i) + 1, at(k)) = g.loss_Pa / p.loss_Pa;
    }
  }
  return fit_relative(relative, times, points.size());
}

ModesFit fit_modes(std::span<const ModulusPoint> points, const sheet::TimeShift& shift, const TimeGrid& grid) {
  if (points.size() < 2) refuse("table of G(t)", fmt::format("{} points", points.size()), "two or more");
  const std::vector<double> times = times_of(grid);
  Eigen::MatrixXd relative(at(points.size()), at(times.size()));
  for (std::size_t i = 0; i < points.size(); ++i) {
    const ModulusPoint& p = points[i];
    positive(p.time_s, "time after the step", i);
    positive(p.modulus_Pa, "relaxation modulus", i);
    positive(p.temperature_K, "temperature", i);
    const double reduced_s = p.time_s / shift.factor(p.temperature_K);
    for (std::size_t k = 0; k < times.size(); ++k)
      relative(at(i), at(k)) = std::exp(-reduced_s / times[k]) / p.modulus_Pa;
  }
  return fit_relative(relative, times, points.size());
}

ModesFit merged(const ModesFit& full, int modes, const TimeWindow& window) {
  positive(window.from_s, "start of the time window", 0);
  if (!(window.to_s > window.from_s))
    refuse("end of the time window", fmt::format("{:g} s", window.to_s), "after its start");
  if (modes < 1) refuse("number of modes to merge to", fmt::format("{}", modes), "one or more");
  Target target;
  const double decades = std::log10(window.to_s / window.from_s);
  const int steps = std::max(10, static_cast<int>(std::ceil(10.0 * decades)));
  for (int i = 0; i <= steps; ++i) {
    target.times_s.push_back(window.from_s * std::pow(10.0, decades * i / steps));
    target.modulus_Pa.push_back(modulus_Pa(full, target.times_s.back()));
    if (!(target.modulus_Pa.back() > 0.0))
      refuse("time window", fmt::format("no modulus left at {:g} s", target.times_s.back()),
             "times at which the modes still hold something");
  }
  ModesFit fit = full;
  fit.points = steps + 1;
  sort_by_time(fit.modes);
  while (static_cast<int>(fit.modes.size()) > modes) fit = one_fewer(fit, target);
  fit = polished(fit, target);
  sort_by_time(fit.modes);
  return fit;
}

WlfFit fit_wlf(std::span<const ShiftPoint> points, double reference_K) {
  positive(reference_K, "reference temperature", 0);
  double lowest_K = reference_K;
  std::set<double> apart_K;  // points at one temperature tell one number
  for (std::size_t i = 0; i < points.size(); ++i) {
    positive(points[i].temperature_K, "temperature of a shift", i);
    lowest_K = std::min(lowest_K, points[i].temperature_K);
    if (points[i].temperature_K != reference_K) apart_K.insert(points[i].temperature_K);
  }
  if (points.size() < 3 || apart_K.size() < 2)
    refuse("table of shifts",
           fmt::format("{} points, {} temperatures besides the reference", points.size(), apart_K.size()),
           "three points or more, at two temperatures or more besides the reference");
  const double least_K = reference_K - lowest_K;  // the pole lies at reference - c2
  const auto column = [&](double c2_K) {
    Eigen::VectorXd x(at(points.size()));
    for (std::size_t i = 0; i < points.size(); ++i) {
      const double above_K = points[i].temperature_K - reference_K;
      x[at(i)] = -above_K / (c2_K + above_K);
    }
    return x;
  };
  Eigen::VectorXd shifts(at(points.size()));
  for (std::size_t i = 0; i < points.size(); ++i) shifts[at(i)] = points[i].log10_factor;
  const auto c1_of = [&](double c2_K) {
    const Eigen::VectorXd x = column(c2_K);
    return x.dot(shifts) / x.squaredNorm();
  };
  const auto c2_of = [&](const Eigen::VectorXd& p) { return least_K + std::exp(p[0]); };
  const Minimum found = least_squares(
      [&](const Eigen::VectorXd& p) -> Eigen::VectorXd { return c1_of(c2_of(p)) * column(c2_of(p)) - shifts; },
      Eigen::VectorXd::Constant(1, std::log(50.0)));  // a usual c2 at the glass transition, K
  const double c2_K = c2_of(found.at);
  return {c1_of(c2_K), c2_K, found.rms};
}

std::vector<double> uniaxial_stress_Pa(const sheet::Polymer& network, std::span<const RelaxationMode> modes,
                                       std::span<const double> stretches, double rate_per_s, TensileRate kind) {
  std::vector<double> sum;
  for (const double l : stretches)
    sum.push_back(std::visit([&](const auto& law) { return law.principal(l, 1.0 / std::sqrt(l)).w1_Pa; }, network));
  for (const RelaxationMode& mode : modes) {
    const std::vector<double> own = stress_of_mode(mode.time_s, stretches, rate_per_s, kind);
    for (std::size_t i = 0; i < sum.size(); ++i) sum[i] += mode.modulus_Pa * own[i];
  }
  return sum;
}

TensileFit fit_tensile(std::span<const TensilePoint> points, TensileRate kind, NetworkKind network, int modes) {
  const std::vector<Test> tests = tests_of(points);
  const Eigen::MatrixXd of_network = network_columns(points, network);
  const int numbers = (network == NetworkKind::kYeoh ? 3 : 1) + 2 * modes;
  if (modes < 0) refuse("number of modes to fit", fmt::format("{}", modes), "none or more");
  if (static_cast<int>(points.size()) < numbers)
    refuse("tensile test", fmt::format("{} points", points.size()), "as many points as numbers to fit, or more",
           "a network is one number (neo-Hookean) or three (Yeoh), a mode two");
  Eigen::VectorXd measured(at(points.size()));
  double shortest_s = kNever_s, longest_s = 0.0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    measured[at(i)] = points[i].nominal_stress_Pa;
    const double t = time_at(points[i].stretch, points[i].rate_per_s, kind);
    shortest_s = std::min(shortest_s, t);
    longest_s = std::max(longest_s, t);
  }
  const double low = std::log(0.1 * shortest_s), high = std::log(10.0 * longest_s);
  const auto time_of = [&](double p) { return std::exp(std::clamp(p, low, high)); };
  const auto matrix = [&](const Eigen::VectorXd& p) {
    Eigen::MatrixXd a(at(points.size()), of_network.cols() + modes);
    a.leftCols(of_network.cols()) = of_network;
    for (Eigen::Index k = 0; k < modes; ++k)
      for (const Test& test : tests) {
        const std::vector<double> own = stress_of_mode(time_of(p[k]), test.stretches, test.rate_per_s, kind);
        for (std::size_t i = 0; i < own.size(); ++i) a(at(test.rows[i]), of_network.cols() + k) = own[i];
      }
    return a;
  };
  const double largest_Pa = measured.maxCoeff();
  const auto residuals = [&](const Eigen::VectorXd& p) -> Eigen::VectorXd {
    const Eigen::MatrixXd a = matrix(p);
    return (a * non_negative_least_squares(a, measured) - measured) / largest_Pa;
  };
  Eigen::VectorXd times(modes);  // evenly between the shortest and the longest time in the data
  for (Eigen::Index k = 0; k < modes; ++k)
    times[k] = std::log(shortest_s) + (static_cast<double>(k) + 0.5) / modes * std::log(longest_s / shortest_s);
  const Minimum found = modes > 0
                            ? least_squares(residuals, times)
                            : Minimum{times, residuals(times).norm() / std::sqrt(static_cast<double>(points.size()))};
  const Eigen::VectorXd x = non_negative_least_squares(matrix(found.at), measured);
  TensileFit fit{sheet::NeoHookean{x[0]}, {}, found.rms, static_cast<int>(points.size())};
  if (network == NetworkKind::kYeoh) fit.network = sheet::Yeoh{x[0], x[1] - x[2], x[3]};
  for (Eigen::Index k = 0; k < modes; ++k) {
    const double g = x[of_network.cols() + k];
    if (g > kDust * x.sum()) fit.modes.push_back({g, time_of(found.at[k])});
  }
  sort_by_time(fit.modes);
  return fit;
}

}  // namespace pellicle::fit
