// Which is the narrowest stroke that a sheet forms to a wanted depth?
#include "solver/imprint/chart.h"

#include "mesh/check.h"
#include "solver/imprint/screening.h"
#include "solver/imprint/section.h"
#include "solver/imprint/slot_table.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <exception>
#include <string>
#include <utility>

namespace pellicle::imprint {
namespace {

// Points of a curve lie half a doubling apart; tests/solver/imprint/chart_test.cpp holds what lies between them against
// a section of its own.
constexpr double kFirstLog2 = -2.0, kStepLog2 = 0.5;
constexpr double kRefinement =
    0.6;                        // of the section: depths 1 % less than with the automatic mesh, in a third of the time
constexpr double kEdge = 0.02;  // radius of the stroke's edges over its width
constexpr double kOutOfReach = 20.0;   // floor of the section's groove, in widths
constexpr double kPitch = 5.0;         // in widths: as in the slot table
constexpr double kStretched = 1.7;     // across^2 along of a sheet that counts as stretched: 1.2 both ways
constexpr double kMostStretch = 64.0;  // across^2 along: where the slot table ends

[[noreturn]] void refuse(const char* what, double found, const char* allowed, const char* advice = "") {
  throw Error({Fault::Kind::kCase, std::string("chart of strokes, ") + what, std::to_string(found), allowed, advice});
}

double tension_ratio(const StrokeStretch& stretch) { return stretch.across * stretch.across * stretch.along; }

void check(const ChartTask& task) {
  for (const double pressure : task.pressures_over_modulus)
    if (!(pressure >= 0.01 && pressure <= 10.0))
      refuse("pressure over shear modulus", pressure, "0.01 to 10", "ask for other pressures");
  const StrokeStretch& stretch = task.stretch;
  if (!(stretch.across >= 0.5)) refuse("stretch across", stretch.across, "0.5 or more");
  if (!(stretch.along >= 0.5)) refuse("stretch along", stretch.along, "0.5 or more");
  if (!(tension_ratio(stretch) <= kMostStretch))
    refuse("stretch across, squared, times stretch along", tension_ratio(stretch), "64 at most");
  if (!(task.shallowest > 0.0)) refuse("depth over thickness", task.shallowest, "above 0");
  if (!(task.deepest >= task.shallowest && task.deepest <= 100.0))
    refuse("depth over thickness", task.deepest, "the least asked for to 100");
}

/// Widths in thicknesses, from the last whose depth is surely less than the shallowest asked for: layer theory says too
/// much, or some percent too little.
std::vector<double> widths_to_try(const ChartTask& task, double pressure_over_modulus) {
  constexpr double kTooLittle = 1.5;
  std::vector<double> widths;
  for (double log2 = kFirstLog2; std::exp2(log2) <= kWidestStroke; log2 += kStepLog2) {
    const double width = std::exp2(log2);
    const double depth = width * layer_depth_over_width(width, task.stretch, pressure_over_modulus);
    if (depth * kTooLittle < task.shallowest) widths.clear();
    widths.push_back(width);
  }
  return widths;
}

/// None if layer theory does not hold from the first width to the one that is deep enough.
std::optional<StrokeCurve> layer_curve(const ChartTask& task, double pressure_over_modulus) {
  std::vector<StrokeCurve::Point> points;
  for (const double width : widths_to_try(task, pressure_over_modulus)) {
    const double share = layer_depth_over_width(width, task.stretch, pressure_over_modulus);
    if (!layer_theory_holds(width, share, task.stretch)) return std::nullopt;
    points.push_back({width, width * share});
    if (points.back().depth_over_thickness >= task.deepest && points.size() > 1)
      return StrokeCurve(points, ChartModel::kLayer, ChartEnd::kDeepEnough, task.stretch, pressure_over_modulus);
  }
  return std::nullopt;
}

/// Points of a curve by the section, from narrow to wide.
class SectionMarch {
 public:
  SectionMarch(const ChartTask& task, double pressure_over_modulus) : task_(task), pressure_(pressure_over_modulus) {}

  StrokeCurve curve() {
    for (const double width : widths_to_try(task_, pressure_)) {
      if (!add(width, points_.size())) break;
      if (points_.back().depth_over_thickness >= task_.deepest) {
        end_ = ChartEnd::kDeepEnough;
        break;
      }
    }
    for (std::size_t i = 0; i + 1 < points_.size();) {
      const double between = std::sqrt(points_[i].width_over_thickness * points_[i + 1].width_over_thickness);
      if (!is_steep(points_[i], points_[i + 1])) {
        ++i;
      } else if (!add(between, i + 1)) {
        points_.resize(i + 1);
      }
    }
    return {points_, ChartModel::kSection, end_, task_.stretch, pressure_};
  }

 private:
  /// False if there is no balance, or no deeper one than in the stroke before or one less deep than in the one after.
  bool add(double width, std::size_t at) {
    const auto share = section_depth_over_width(width, task_.stretch, pressure_);
    const double depth = share ? width * *share : 0.0;
    const bool rises = share && (at == 0 || depth > points_[at - 1].depth_over_thickness) &&
                       (at == points_.size() || depth < points_[at].depth_over_thickness);
    if (rises)
      points_.insert(points_.begin() + static_cast<std::ptrdiff_t>(at), {width, depth});
    else
      end_ = ChartEnd::kNoBalance;
    return rises;
  }

  /// A sheet nearly as thick as the stroke is wide gives way within a few percent of width: points are closer there.
  static bool is_steep(const StrokeCurve::Point& a, const StrokeCurve::Point& b) {
    constexpr double kSteep = 1.7, kLeastStepLog2 = 0.13;  // of log depth by log width; half a step twice halved
    const double step_log2 = std::log2(b.width_over_thickness / a.width_over_thickness);
    return step_log2 > kLeastStepLog2 &&
           std::log2(b.depth_over_thickness / a.depth_over_thickness) > kSteep * step_log2;
  }

  const ChartTask& task_;
  double pressure_;
  std::vector<StrokeCurve::Point> points_;
  ChartEnd end_ = ChartEnd::kWidest;
};

}  // namespace

double layer_depth_over_width(double width_over_thickness, const StrokeStretch& stretch, double pressure_over_modulus) {
  // d_lin = Phi p w/(4 G), in widths: docs/theory/screening.md (1), (3).
  const double factor = stroke_factor(width_over_thickness, stretch.across, stretch.along);
  return corrected_depth_m(0.25 * factor * pressure_over_modulus, 1.0, 1.0 / width_over_thickness);
}

bool layer_theory_holds(double width_over_thickness, double depth_over_width, const StrokeStretch& stretch) {
  const double widest = tension_ratio(stretch) >= kStretched ? 4.0 : 2.0;
  return depth_over_width <= 0.25 && width_over_thickness < widest;
}

std::optional<double> section_depth_over_width(double width_over_thickness, const StrokeStretch& stretch,
                                               double pressure_over_modulus) {
  SectionTask task;  // in units of the width and of the modulus
  task.sheet = {1.0 / width_over_thickness, 1.0, stretch.across, stretch.along, {}};
  task.profile = half_slot(1.0, kOutOfReach, kPitch, kEdge);
  task.touch = SectionTouch::kStick;
  task.pressure_Pa = pressure_over_modulus;
  task.refinement = kRefinement;
  try {
    const SectionResult result = solve_section(task);
    if (result.floor_touched) return std::nullopt;
    return result.depth_m;
  } catch (const Error& error) {
    if (error.fault().kind != Fault::Kind::kSolution) throw;
    return std::nullopt;
  }
}

StrokeCurve::StrokeCurve(std::vector<Point> points, ChartModel model, ChartEnd end, const StrokeStretch& stretch,
                         double pressure_over_modulus)
    : points_(std::move(points)),
      slopes_(points_.size(), 1.0),
      model_(model),
      end_(end),
      stretch_(stretch),
      pressure_over_modulus_(pressure_over_modulus) {
  // Fritsch and Butland 1984 (from memory): harmonic mean of the neighbours' slopes, one-sided at the ends; the cubic
  // then rises wherever the points do.
  const std::size_t n = points_.size();
  std::vector<double> chord;
  for (std::size_t i = 0; i + 1 < n; ++i) {
    const Point &a = points_[i], &b = points_[i + 1];
    ensure(b.width_over_thickness > a.width_over_thickness && b.depth_over_thickness > a.depth_over_thickness,
           "a curve of strokes rises");
    chord.push_back(std::log(b.depth_over_thickness / a.depth_over_thickness) /
                    std::log(b.width_over_thickness / a.width_over_thickness));
  }
  for (std::size_t i = 0; i < n && n > 1; ++i) {
    const double before = chord[i == 0 ? 0 : i - 1], after = chord[i + 1 == n ? n - 2 : i];
    slopes_[i] = 2.0 * before * after / (before + after);
  }
}

double StrokeCurve::interpolated(double log_width) const {
  const auto above = std::upper_bound(points_.begin() + 1, points_.end() - 1, std::exp(log_width),
                                      [](double width, const Point& p) { return width < p.width_over_thickness; });
  const auto i = static_cast<std::size_t>(above - points_.begin() - 1);
  const Point &a = points_[i], &b = points_[i + 1];
  const double start = std::log(a.width_over_thickness), length = std::log(b.width_over_thickness) - start;
  const double t = (log_width - start) / length, s = 1.0 - t;
  // Hermite cubic.
  return std::log(a.depth_over_thickness) * s * s * (1.0 + 2.0 * t) + slopes_[i] * length * s * s * t +
         std::log(b.depth_over_thickness) * t * t * (1.0 + 2.0 * s) - slopes_[i + 1] * length * t * t * s;
}

std::optional<double> StrokeCurve::depth_over_thickness(double width) const {
  if (points_.empty() || !(width > 0.0)) return std::nullopt;
  const Point &first = points_.front(), &last = points_.back();
  if (width > last.width_over_thickness * (1.0 + 1e-12)) return std::nullopt;
  if (width <= first.width_over_thickness || points_.size() == 1) {
    const auto layer = [&](double w) { return w * layer_depth_over_width(w, stretch_, pressure_over_modulus_); };
    return first.depth_over_thickness * layer(width) / layer(first.width_over_thickness);
  }
  return std::exp(interpolated(std::log(std::min(width, last.width_over_thickness))));
}

std::optional<double> StrokeCurve::width_over_thickness(double depth) const {
  if (points_.empty() || !(depth > 0.0) || depth > points_.back().depth_over_thickness) return std::nullopt;
  // Depth rises with width: halve down to round-off. Below the first point depth over width hardly changes.
  double low = std::log(1e-3 * points_.front().width_over_thickness * depth / points_.front().depth_over_thickness);
  double high = std::log(points_.back().width_over_thickness);
  for (int k = 0; k < 60; ++k) {
    const double middle = 0.5 * (low + high);
    (*depth_over_thickness(std::exp(middle)) < depth ? low : high) = middle;
  }
  return std::exp(high);
}

std::vector<StrokeCurve> stroke_curves(const ChartTask& task) {
  check(task);
  const std::size_t n = task.pressures_over_modulus.size();
  std::vector<std::optional<StrokeCurve>> found(n);
  std::vector<std::exception_ptr> failed(n);
  slot_factor(1.0, task.stretch.across, task.stretch.along);  // makes its table before the threads part
  std::size_t done = 0;
#pragma omp parallel for schedule(dynamic, 1)
  for (std::size_t i = 0; i < n; ++i) {
    try {
      found[i] = layer_curve(task, task.pressures_over_modulus[i]);
      if (!found[i]) found[i] = SectionMarch(task, task.pressures_over_modulus[i]).curve();
#pragma omp critical(pellicle_chart_progress)
      if (++done; task.progress) task.progress(static_cast<double>(done) / static_cast<double>(n));
    } catch (...) {
      failed[i] = std::current_exception();
    }
  }
  std::vector<StrokeCurve> curves;
  for (std::size_t i = 0; i < n; ++i) {
    if (failed[i]) std::rethrow_exception(failed[i]);
    curves.push_back(std::move(*found[i]));
  }
  return curves;
}

}  // namespace pellicle::imprint
