// Which is the narrowest stroke that a sheet forms to a wanted depth?
//
// docs/theory/screening.md, docs/theory/section.md. A stroke is a straight groove with upright walls, far from others;
// its width is that between the walls. Depth over thickness depends on width over thickness, on p/G and on the
// stretches alone, so a curve for one p/G serves every gauge.
#pragma once

#include <functional>
#include <optional>
#include <vector>

namespace pellicle::imprint {

/// Present stretches of the sheet over the stroke.
struct StrokeStretch {
  double across = 1.0, along = 1.0;
};

/// Corrected layer theory, (1) and (3) of docs/theory/screening.md, for a stroke that runs one known way: depth over
/// width. pressure_over_modulus is p/G. Throws what slot_factor throws.
double layer_depth_over_width(double width_over_thickness, const StrokeStretch& stretch, double pressure_over_modulus);

/// Whether that is within 7 % where the sheet sticks: d/w up to 0.25, and w/h below 2, or below 4 once the sheet is
/// stretched by 1.2 both ways or as much (docs/theory/screening.md).
bool layer_theory_holds(double width_over_thickness, double depth_over_width, const StrokeStretch& stretch);

/// Depth over width of a stroke by the section, sticking, edges rounded by 2 % of the width: at these the depth differs
/// by 1 % from that of sharp ones, at a third of the cost. A sheet that gave way suddenly counts where it came to rest.
/// None where the sheet finds no balance: there the floor decides.
std::optional<double> section_depth_over_width(double width_over_thickness, const StrokeStretch& stretch,
                                               double pressure_over_modulus);

enum class ChartModel { kLayer, kSection };

/// How a curve ended: at a depth that was asked for, at the widest stroke looked at, at one without balance.
enum class ChartEnd { kDeepEnough, kWidest, kNoBalance };

inline constexpr double kWidestStroke = 16.0;  ///< thicknesses; there the slot table ends as well

/// Depth against width at one p/G: monotone cubic through the points in the logarithms of w/h and d/h.
class StrokeCurve {
 public:
  struct Point {
    double width_over_thickness, depth_over_thickness;
  };
  /// Both numbers of the points must rise. Below the first point depth over width goes with that of layer theory.
  StrokeCurve(std::vector<Point> points, ChartModel model, ChartEnd end, const StrokeStretch& stretch,
              double pressure_over_modulus);

  ChartModel model() const { return model_; }
  ChartEnd end() const { return end_; }
  const std::vector<Point>& points() const { return points_; }
  /// None beyond the last point.
  std::optional<double> depth_over_thickness(double width_over_thickness) const;
  /// None where no stroke up to the last point is formed so deep.
  std::optional<double> width_over_thickness(double depth_over_thickness) const;

 private:
  double interpolated(double log_width) const;

  std::vector<Point> points_;
  std::vector<double> slopes_;  ///< of log depth by log width, at the points
  ChartModel model_;
  ChartEnd end_;
  StrokeStretch stretch_;
  double pressure_over_modulus_;
};

struct ChartTask {
  std::vector<double> pressures_over_modulus;  ///< p/G, one a curve
  StrokeStretch stretch;
  double shallowest = 0.1, deepest = 1.0;           ///< least and largest depth over thickness that will be asked for
  std::function<void(double share_done)> progress;  ///< called from one thread at a time; may be empty
};

/// One curve for each p/G, in their order: layer theory where it holds over all that is asked, else the section. A
/// curve takes some ten sections, a few seconds; curves are shared out over the threads, which does not change their
/// bits. Throws Error (case) for a p/G, stretch or depth out of range.
std::vector<StrokeCurve> stroke_curves(const ChartTask& task);

}  // namespace pellicle::imprint
