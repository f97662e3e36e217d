// How stiff was the sheet, if it was pressed so deep into grooves of known width?
#include "solver/fit/groove_readback.h"

#include "mesh/check.h"
#include "solver/imprint/chart.h"
#include "solver/imprint/screening.h"
#include "solver/imprint/section.h"
#include "solver/imprint/slot_table.h"

#include <algorithm>
#include <cmath>
#include <exception>
#include <numbers>
#include <optional>
#include <utility>

namespace pellicle::fit {
namespace {

constexpr double kFloorTouched = 0.95;     // of the groove's depth: deeper than that the floor may have held the sheet
constexpr double kLargeCorrection = 0.15;  // k d/w: beyond it the layer's answer errs by more than 15 %
constexpr double kCloseEnough = 2e-3;      // of the depth, for the section
constexpr int kMostSections = 8;
constexpr double kLeast = 0.01, kMost = 10.0;       // p/G
constexpr double kModelError = 0.03;                // one standard deviation of the section: mesh, edge, sticking
constexpr double kLayerError = 0.1;                 // of layer theory where there is no section
constexpr double kOutlier = 3.5;                    // standard deviations of one groove
constexpr double kPitch = 5.0, kOutOfReach = 20.0;  // widths

void check(const Groove& groove, std::size_t number) {
  const auto refuse = [number](const char* what, double value, const char* allowed) {
    throw Error(
        {Fault::Kind::kCase, "groove " + std::to_string(number + 1) + ", " + what, std::to_string(value), allowed, ""});
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
    if (!(stretch >= 0.5 && stretch <= 3.9)) refuse("stretch", stretch, "0.5 to 3.9");
}

/// By layer theory: d_lin = d/(1 - k d/w), p/G = 4 (d_lin/w)/Phi(w/h), with w + 2 r_e for w.
double layer_reading(const Groove& groove) {
  const double width_m = groove.width_m + 2.0 * groove.edge_radius_m, ratio = width_m / groove.thickness_m;
  const double share = groove.depth_m / width_m, left = 1.0 - imprint::depth_correction(ratio) * share;
  if (!(left > 0.0)) return std::numeric_limits<double>::quiet_NaN();
  const double tension = groove.stretch_across * groove.stretch_across * groove.stretch_along;
  if (!(tension <= 64.0)) return std::numeric_limits<double>::quiet_NaN();  // beyond the slot table
  return 4.0 * share / left / imprint::slot_factor(ratio, groove.stretch_across, groove.stretch_along);
}

/// Depth by the section at a p/G; none where it does not come to rest.
std::optional<double> section_depth_m(const Groove& groove, double pressure_over_modulus) {
  imprint::SectionTask task;
  const double brim_m = groove.width_m + 2.0 * groove.edge_radius_m;
  task.sheet = {groove.thickness_m, 1.0, groove.stretch_across, groove.stretch_along, {}};
  task.profile = imprint::half_slot(groove.width_m, kOutOfReach * brim_m, kPitch * brim_m, groove.edge_radius_m);
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
  const double width_m = groove.width_m + 2.0 * groove.edge_radius_m, ratio = width_m / groove.thickness_m;
  if (inverse.pressure_over_modulus) {
    reading.pressure_over_modulus = *inverse.pressure_over_modulus;
  } else {
    reading.model = GrooveModel::kLayer;
    const double correction = imprint::depth_correction(ratio) * groove.depth_m / width_m;
    if (!std::isfinite(reading.layer_pressure_over_modulus) || correction > kLargeCorrection) {
      reading.why =
          "no section is at rest at this depth, and it is too deep for layer theory (k d/w above 0.15); not used";
      return reading;
    }
    reading.pressure_over_modulus = reading.layer_pressure_over_modulus;
    reading.why = "no section is at rest at this depth: by layer theory";
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
  if (back.used < 2)
    throw Error({Fault::Kind::kCase, "grooves", std::to_string(back.used) + " that can be used", "two or more",
                 "measure more grooves that the sheet did not fill"});
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
