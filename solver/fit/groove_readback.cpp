// How stiff was the sheet, if it was pressed so deep into grooves of known width?
#include "solver/fit/groove_readback.h"

#include "mesh/check.h"
#include "solver/imprint/chart.h"
#include "solver/imprint/screening.h"
#include "solver/imprint/section.h"
#include "solver/imprint/slot_table.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <exception>
#include <numbers>
#include <optional>
#include <string>
#include <utility>

namespace pellicle::fit {
namespace {

constexpr double kFloorTouched = 0.95;     // of the groove's depth: deeper than that the floor may have held the sheet
constexpr double kLargeCorrection = 0.15;  // k d/w: beyond it the layer's answer errs by more than 15 %
constexpr double kCloseEnough = 2e-3;      // of the depth, for the section: a tenth of what a groove is measured to
constexpr int kMostSections = 8;           // the secant takes three to five, more beside a snap or an end of the range
// p/G: from air of 0.1 bar on sheet of 1 MPa to 10 bar on sheet of 0.1 MPa. What is found beyond is no answer but a
// slip: of a unit, a blocked groove, shut-in air.
constexpr double kLeast = 0.01, kMost = 10.0;
// One standard deviation of the section: mesh 1 to 2 %, edges on which the sheet lies 1.4 %, pitch 1 %, sticking.
constexpr double kModelError = 0.03;
// Of layer theory where there is no section: 7 % at sharp edges, 8 to 24 % at the round ones of the coupon.
constexpr double kLayerError = 0.1;
// Standard deviations of one groove: one in two thousand lies farther off by chance, and a coupon has six.
constexpr double kOutlier = 3.5;
constexpr double kPitch = 5.0;        // widths: as in the slot table
constexpr double kOutOfReach = 20.0;  // widths: so that the floor plays no part

void check(const Groove& groove, std::size_t number) {
  const auto refuse = [number](const char* what, double value, std::string allowed) {
    throw Error({Fault::Kind::kCase, fmt::format("groove {}, {}", number + 1, what), fmt::format("{:g}", value),
                 std::move(allowed), ""});
  };
  const auto length = [&](const char* what, double value_m, double least_m) {
    if (!(value_m >= least_m && value_m < 0.1)) refuse(what, value_m, "metres, above 0 and below 0.1");
  };
  length("width", groove.width_m, 1e-6);
  length("depth", groove.depth_m, 1e-7);
  length("thickness", groove.thickness_m, 1e-6);
  length("edge radius", groove.edge_radius_m, 0.0);
  if (!(groove.depth_error_m >= 0.0 && groove.depth_error_m < groove.depth_m))
    refuse("error of the depth", groove.depth_error_m, "0 or more, less than the depth");
  if (!(groove.floor_m > 0.0)) refuse("floor", groove.floor_m, "above 0");
  if (!(groove.pressure_Pa > 0.0 && groove.pressure_Pa < 1e8)) refuse("pressure", groove.pressure_Pa, "above 0 Pa");
  for (const double stretch : {groove.stretch_across, groove.stretch_along})
    if (!(stretch >= kLeastGrooveStretch && stretch <= kMostGrooveStretch))
      refuse("stretch", stretch, fmt::format("{} to {}", kLeastGrooveStretch, kMostGrooveStretch));
}

double brim_m(const Groove& groove) { return groove.width_m + 2.0 * groove.edge_radius_m; }

/// k d/w.
double correction(const Groove& groove) {
  return imprint::depth_correction(brim_m(groove) / groove.thickness_m) * groove.depth_m / brim_m(groove);
}

/// By layer theory: d_lin = d/(1 - k d/w), p/G = 4 (d_lin/w)/Phi(w/h), with w + 2 r_e for w.
double layer_reading(const Groove& groove) {
  const double left = 1.0 - correction(groove);
  if (!(left > 0.0)) return std::numeric_limits<double>::quiet_NaN();
  return 4.0 * groove.depth_m / brim_m(groove) / left /
         imprint::slot_factor(brim_m(groove) / groove.thickness_m, groove.stretch_across, groove.stretch_along);
}

/// Why the layer's answer cannot stand in for the section's; empty: it can.
std::string layer_doubt(const Groove& groove, double pressure_over_modulus) {
  if (!(correction(groove) <= kLargeCorrection))
    return fmt::format("too deep for layer theory (k d/w above {})", kLargeCorrection);
  const double ratio = brim_m(groove) / groove.thickness_m;
  if (ratio > imprint::kWidestStroke)
    return fmt::format("too wide for layer theory ({:.3g} thicknesses, {} at most)", ratio, imprint::kWidestStroke);
  if (!(pressure_over_modulus >= kLeast && pressure_over_modulus <= kMost))
    return fmt::format(
        "p/G = {:.2g} by layer theory, where {} to {} is to be believed: check units, and look for "
        "shut-in air, a blocked or misprinted groove",
        pressure_over_modulus, kLeast, kMost);
  return {};
}

/// Depth by the section at a p/G; none where it does not come to rest.
std::optional<double> section_depth_m(const Groove& groove, double pressure_over_modulus) {
  imprint::SectionTask task;
  task.sheet = {groove.thickness_m, 1.0, groove.stretch_across, groove.stretch_along, {}};
  task.profile =
      imprint::half_slot(groove.width_m, kOutOfReach * brim_m(groove), kPitch * brim_m(groove), groove.edge_radius_m);
  task.touch = imprint::SectionTouch::kStick;
  task.pressure_Pa = pressure_over_modulus;
  try {
    return imprint::solve_section(task).depth_m;
  } catch (const Error& error) {
    if (error.fault().kind != Fault::Kind::kSolution) throw;
    return std::nullopt;
  }
}

struct Inverse {
  std::optional<double> pressure_over_modulus;
  double sensitivity = 1.0;  ///< d log(p/G) by d log(depth)
  int sections = 0;
  bool lost_balance = false;  ///< in one of them
};

/// p/G at which the section is as deep as measured: secant in logarithms, kept between what was too much and too
/// little.
Inverse section_reading(const Groove& groove, double start) {
  Inverse inverse;
  double low = std::log(kLeast), high = std::log(kMost);
  double x = std::clamp(std::isfinite(start) ? std::log(start) : 0.0, low + 0.1, high - 0.1);
  std::optional<std::pair<double, double>> before;  // log p/G, log of depth over the measured one
  while (inverse.sections < kMostSections && high - low > 1e-4) {
    const auto depth_m = section_depth_m(groove, std::exp(x));
    ++inverse.sections;
    if (!depth_m) {  // past all balance
      inverse.lost_balance = true;
      high = x;
      x = before && before->second < 0.0 ? 0.5 * (x + before->first) : std::max(0.5 * (low + x), x - 0.5);
      continue;
    }
    const double off = std::log(*depth_m / groove.depth_m);
    if (before && std::fabs(off - before->second) > 1e-6)
      inverse.sensitivity = std::clamp((x - before->first) / (off - before->second), 0.1, 3.0);
    if (std::fabs(off) < kCloseEnough && before) {
      inverse.pressure_over_modulus = std::exp(x - inverse.sensitivity * off);
      return inverse;
    }
    (off < 0.0 ? low : high) = x;
    before = {x, off};
    // A start that is right at once is left a little, so that the sensitivity is known.
    const double step = std::fabs(off) < kCloseEnough ? 0.02 : -inverse.sensitivity * off;
    x += step;
    if (!(x > low && x < high)) x = 0.5 * (low + high);
  }
  return inverse;
}

GrooveReading read(const Groove& groove) {
  GrooveReading reading;
  reading.layer_pressure_over_modulus = layer_reading(groove);
  if (groove.depth_m >= kFloorTouched * groove.floor_m) {
    reading.why = "the sheet reached the floor: it says only that the sheet was soft enough; not used";
    return reading;
  }
  const Inverse inverse = section_reading(groove, reading.layer_pressure_over_modulus);
  reading.sections = inverse.sections;
  if (inverse.pressure_over_modulus) {
    reading.pressure_over_modulus = *inverse.pressure_over_modulus;
  } else {
    reading.model = GrooveModel::kLayer;
    const std::string missing = inverse.lost_balance
                                    ? "no section is at rest at this depth"
                                    : fmt::format("no section from p/G = {} to {} has this depth", kLeast, kMost);
    const std::string doubt = layer_doubt(groove, reading.layer_pressure_over_modulus);
    reading.why = doubt.empty() ? missing + ": by layer theory" : fmt::format("{}; {}; not used", missing, doubt);
    if (!doubt.empty()) return reading;
    reading.pressure_over_modulus = reading.layer_pressure_over_modulus;
  }
  reading.shear_modulus_Pa = groove.pressure_Pa / reading.pressure_over_modulus;
  reading.modulus_error = inverse.sensitivity * groove.depth_error_m / groove.depth_m;
  return reading;
}

double median(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  const std::size_t n = values.size(), half = n / 2;
  return n % 2 == 1 ? values[half] : 0.5 * (values[half - 1] + values[half]);
}

/// With the reasons, of which none would be told otherwise.
[[noreturn]] void refuse_too_few(const GrooveReadback& back) {
  std::string reasons;
  for (std::size_t i = 0; i < back.readings.size(); ++i)
    if (!back.readings[i].used())
      reasons += fmt::format("{}groove {}: {}", reasons.empty() ? "" : ". ", i + 1, back.readings[i].why);
  throw Error({Fault::Kind::kCase, "grooves", fmt::format("{} that can be used", back.used), "two or more",
               reasons.empty() ? "measure more grooves that the sheet did not fill" : std::move(reasons)});
}

/// Median of the logarithms, and its standard deviation.
void summarise(GrooveReadback& back) {
  std::vector<double> logs, errors, apart;
  bool by_layer = false;
  for (const GrooveReading& r : back.readings) {
    if (!r.used()) continue;
    logs.push_back(std::log(r.shear_modulus_Pa));
    errors.push_back(r.modulus_error);
    by_layer = by_layer || r.model == GrooveModel::kLayer;
  }
  back.used = static_cast<int>(logs.size());
  if (back.used < 2) refuse_too_few(back);
  const double middle = median(logs);
  for (const double value : logs) apart.push_back(std::fabs(value - middle));
  // Of a normal distribution, the standard deviation is 1.4826 times the median absolute deviation, and that of the
  // median of n values sqrt(pi/2) times that of their mean (Huber, Robust Statistics; from memory).
  back.scatter = 1.4826 * median(apart);
  const double measured = median(errors), one = std::max(back.scatter, measured);
  const double of_median = std::sqrt(0.5 * std::numbers::pi / back.used);
  back.uncertainty = std::hypot(of_median * one, by_layer ? kLayerError : kModelError);
  back.shear_modulus_Pa.likely = std::exp(middle);
  back.shear_modulus_Pa.low = std::exp(middle - 2.0 * back.uncertainty);
  back.shear_modulus_Pa.high = std::exp(middle + 2.0 * back.uncertainty);
  const double far = kOutlier * std::max({back.scatter, measured, kModelError});
  for (GrooveReading& r : back.readings) {
    if (!r.used() || !(std::fabs(std::log(r.shear_modulus_Pa) - middle) > far)) continue;
    r.is_outlier = true;
    ++back.outliers;
    if (!r.why.empty()) r.why += "; ";
    r.why += "far from the others: measure it again, look for shut-in air, a blocked or misprinted groove";
  }
}

}  // namespace

GrooveReadback read_grooves(const std::vector<Groove>& grooves) {
  for (std::size_t i = 0; i < grooves.size(); ++i) check(grooves[i], i);
  GrooveReadback back;
  back.readings.resize(grooves.size());
  std::vector<std::exception_ptr> failed(grooves.size());
  imprint::slot_factor(1.0, 1.0, 1.0);  // makes its table before the threads part
#pragma omp parallel for schedule(dynamic, 1)
  for (std::size_t i = 0; i < grooves.size(); ++i) {
    try {
      back.readings[i] = read(grooves[i]);
    } catch (...) {
      failed[i] = std::current_exception();
    }
  }
  for (const std::exception_ptr& problem : failed)
    if (problem) std::rethrow_exception(problem);
  summarise(back);
  return back;
}

}  // namespace pellicle::fit
