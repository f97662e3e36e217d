// How deep does a stretched sheet go into a long straight slot?
#include "solver/imprint/slot_table.h"

#include "mesh/check.h"
#include "solver/imprint/press.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <exception>
#include <string>
#include <vector>

namespace pellicle::imprint {
namespace {

constexpr int kFree = 153, kPeriod = 768;  // points in the slot and in a period of five slots
constexpr double kEdge = 0.35;             // points between held ones act as a slot this part of a spacing wider

constexpr std::size_t kRatios = 15;  // w/h from 1/8 to 16 in half doublings
// r = stretch across over stretch through the thickness. Stiffness is nearly quadratic in r, so few do.
constexpr std::array kStretches{1.0, 1.03, 1.08, 1.2,  1.35, 1.6,  2.0,  2.8, 4.0,
                                5.6, 8.0,  11.3, 16.0, 22.6, 32.0, 45.0, 64.0};

double ratio_log2(std::size_t i) { return 0.5 * static_cast<double>(i) - 3.0; }

/// Depth of a slot over p w/(4 G), by the press, for a sheet of thickness 1, modulus 1 and equal stretches.
double pressed_factor(double ratio, double stretch) {
  const double spacing = ratio / (kFree + kEdge), p = 1e-3;
  std::vector<double> mould(kPeriod, 0.0);
  std::fill_n(mould.begin(), kFree, -1e3 * ratio);  // out of reach
  const double scale = ratio * p;                   // of the depth of a half-space, 4 times
  Press press({kPeriod, 1, spacing}, {{{1.0, 1.0}}, stretch, stretch}, Boundary::kPeriodic);
  const Pressed pressed = press.solve(mould, p, {1e-6 * scale, 2000});
  return -4.0 / scale * *std::min_element(pressed.displacement_m.begin(), pressed.displacement_m.end());
}

/// Weights of a cubic through four places, at x.
std::array<double, 4> cubic(const std::array<double, 4>& place, double x) {
  std::array<double, 4> weight{1.0, 1.0, 1.0, 1.0};
  for (std::size_t i = 0; i < 4; ++i) {
    for (std::size_t j = 0; j < 4; ++j) {
      if (j != i) weight[i] *= (x - place[j]) / (place[i] - place[j]);
    }
  }
  return weight;
}

/// The stiffness of a stretched layer across the slot is b times a function of r, b the square of the stretch through
/// the thickness; so two numbers do for ratio, stretch across and stretch along. Kept: 1/(Phi b).
class SlotTable {
 public:
  SlotTable() {
    std::exception_ptr broken;
#pragma omp parallel for schedule(dynamic, 1)
    for (std::size_t k = 0; k < kStretches.size() * kRatios; ++k) {
      const std::size_t j = k / kRatios, i = k % kRatios;
      const double stretch = std::cbrt(kStretches[j]);  // equal stretches: r = l^3, b = l^-4
      try {
        log_stiffness_[j][i] = std::log(std::pow(stretch, 4.0) / pressed_factor(std::exp2(ratio_log2(i)), stretch));
      } catch (...) {
#pragma omp critical(pellicle_slot_table)
        broken = std::current_exception();
      }
    }
    if (broken) std::rethrow_exception(broken);
  }

  /// Cubic in r of the stiffness, whose logarithm is a cubic over that of w/h.
  double factor(double ratio, double r, double b) const {
    static const Line places = [] {
      Line all{};
      for (std::size_t i = 0; i < kRatios; ++i) all[i] = ratio_log2(i);
      return all;
    }();
    const double wanted = std::log2(ratio), inside = std::clamp(wanted, places.front(), places.back());
    const double beyond = std::max(0.0, wanted - places.back());
    const std::size_t row = first(kStretches, r), column = first(places, inside);
    const auto of_r = cubic({kStretches[row], kStretches[row + 1], kStretches[row + 2], kStretches[row + 3]}, r);
    const auto of_ratio = cubic({places[column], places[column + 1], places[column + 2], places[column + 3]}, inside);
    double stiffness = 0.0;
    for (std::size_t j = 0; j < 4; ++j) {
      const Line& line = log_stiffness_[row + j];
      const double slope = (line[kRatios - 1] - line[kRatios - 2]) / 0.5;
      double log_stiffness = slope * beyond;
      for (std::size_t i = 0; i < 4; ++i) log_stiffness += of_ratio[i] * line[column + i];
      stiffness += of_r[j] * std::exp(log_stiffness);
    }
    return 1.0 / (stiffness * b);
  }

 private:
  using Line = std::array<double, kRatios>;

  template <std::size_t n>
  static std::size_t first(const std::array<double, n>& places, double x) {
    const auto above = std::upper_bound(places.begin(), places.end(), x) - places.begin();
    return static_cast<std::size_t>(std::clamp<std::ptrdiff_t>(above - 2, 0, static_cast<std::ptrdiff_t>(n) - 4));
  }

  std::array<Line, kStretches.size()> log_stiffness_;
};

}  // namespace

double slot_factor(double width_over_thickness, double stretch_across, double stretch_along) {
  const auto refuse = [](const char* what, double found, const char* allowed) {
    throw Error({Fault::Kind::kCase, std::string("depth in a slot, ") + what, std::to_string(found), allowed, ""});
  };
  if (!(width_over_thickness > 0.0 && std::isfinite(width_over_thickness))) {
    refuse("width over thickness", width_over_thickness, "above 0");
  }
  if (!(stretch_across > 0.0)) refuse("stretch across", stretch_across, "above 0");
  if (!(stretch_along > 0.0)) refuse("stretch along", stretch_along, "above 0");
  const double r = stretch_across * stretch_across * stretch_along;
  if (!(r <= kStretches.back())) refuse("stretch across, squared, times stretch along", r, "64 at most");
  static const SlotTable table;
  const double through = 1.0 / (stretch_across * stretch_along);
  return table.factor(width_over_thickness, std::max(r, 1.0), through * through);
}

}  // namespace pellicle::imprint
