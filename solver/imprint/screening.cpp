// How sharp a corner and how deep a fine stroke will the sheet follow, anywhere on the part?
#include "solver/imprint/screening.h"

#include "solver/imprint/chill.h"
#include "solver/imprint/slot_table.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace pellicle::imprint {
namespace {

/// What heat has made of the sheet at a node; null: the law alone.
template <class F>
const Bracket* bracket_at(const std::optional<ScreeningChill>& chill, std::size_t node, F&& of) {
  if (!chill || chill->class_of[node] < 0) return nullptr;
  const std::optional<Bracket>* const found = of(chill->classes[static_cast<std::size_t>(chill->class_of[node])]);
  return found->has_value() ? &**found : nullptr;
}

}  // namespace

double stroke_factor(double ratio, double across, double along) {
  constexpr double kMost = 63.0;  // the table ends at 64
  const double r = across * across * along;
  if (!(r > 0.0 && std::isfinite(r))) return std::numeric_limits<double>::quiet_NaN();
  const double less = r > kMost ? std::cbrt(kMost / r) : 1.0;
  return slot_factor(ratio, less * across, less * along) * std::pow(less, 6.0);
}

double depth_correction(double ratio) { return 0.27 + (0.1 - 0.27) * std::clamp(std::log2(ratio), 0.0, 1.0); }

double corrected_depth_m(double linear_m, double width_m, double thickness_m) {
  return linear_m / (1.0 + depth_correction(width_m / thickness_m) * linear_m / width_m);
}

double stroke_depth_m(double width_m, double thickness_m, double stretch_1, double stretch_2, double shear_modulus_Pa,
                      double pressure_Pa) {
  const double ratio = width_m / thickness_m;
  const double least = std::min(stroke_factor(ratio, stretch_1, stretch_2), stroke_factor(ratio, stretch_2, stretch_1));
  return corrected_depth_m(least * pressure_Pa * width_m / (4.0 * shear_modulus_Pa), width_m, thickness_m);
}

double finest_radius_m(double thickness_m, double stretch_1, double stretch_2, double element_m,
                       double shear_modulus_Pa, double pressure_Pa) {
  constexpr double kThinning = 4.0 / std::numbers::pi - 1.0;
  const double membrane_m = shear_modulus_Pa * thickness_m / pressure_Pa;
  const auto across = [&](double ln, double lt) {
    const double pull = membrane_m * ln * ln, back = membrane_m / (ln * ln * lt * lt);
    if (pull - back >= element_m) return pull - back;
    // Membrane equilibrium of the free arc at radius r, thinner by e^x, and more stretched, than at r = element:
    // r = element e^(-x/k) = pull e^x - back e^(-3 x). The difference rises with x: Newton, kept between its last
    // signs.
    double low = 0.0, high = kThinning * std::log(1e6), x = 0.0;
    for (int k = 0; k < 60; ++k) {
      const double r = element_m * std::exp(-x / kThinning), grown = pull * std::exp(x),
                   less = back * std::exp(-3.0 * x);
      const double off = grown - less - r;
      (off < 0.0 ? low : high) = x;
      double next = x - off / (grown + 3.0 * less + r / kThinning);
      if (!(next > low && next < high)) next = 0.5 * (low + high);
      if (std::fabs(next - x) < 1e-12) break;
      x = next;
    }
    return element_m * std::exp(-x / kThinning);
  };
  return std::max({across(stretch_1, stretch_2), across(stretch_2, stretch_1), 0.0});
}

double screened_depth_m(const forming::FormingResult& f, const std::optional<ScreeningChill>& chill, std::size_t i,
                        std::size_t width, double modulus_Pa) {
  const double w = kScreenedWidths_m[width], h = f.thickness_m[i];
  const auto depth_m = [&](double pressure_Pa, double G_Pa) {
    return stroke_depth_m(w, h, f.stretch_1[i], f.stretch_2[i], G_Pa, pressure_Pa);
  };
  const Bracket* const bracket = bracket_at(chill, i, [&](const ScreenedClass& c) { return &c.strokes[width]; });
  if (bracket == nullptr) return depth_m(f.pressure_since_Pa[i], modulus_Pa);
  const double factor = modulus_Pa / chill->reference_Pa;
  const double chilled_m = depth_m(bracket->chilled.pressure_Pa, factor * bracket->chilled.shear_modulus_Pa);
  const double open_m = depth_m(bracket->open.pressure_Pa, factor * bracket->open.shear_modulus_Pa);
  return chilled_m + open_weight(w, chill->diffusivity_m2_s, bracket->chilled.since_s) * (open_m - chilled_m);
}

double screened_radius_m(const forming::FormingResult& f, const std::optional<ScreeningChill>& chill, std::size_t i,
                         double modulus_Pa) {
  const auto radius_m = [&](double pressure_Pa, double G_Pa) {
    return finest_radius_m(f.thickness_m[i], f.stretch_1[i], f.stretch_2[i], f.element_m[i], G_Pa, pressure_Pa);
  };
  const Bracket* const bracket = bracket_at(chill, i, [](const ScreenedClass& c) { return &c.membrane; });
  if (bracket == nullptr) return radius_m(f.pressure_since_Pa[i], modulus_Pa);
  const double factor = modulus_Pa / chill->reference_Pa;
  const double chilled_m = radius_m(bracket->chilled.pressure_Pa, factor * bracket->chilled.shear_modulus_Pa);
  const double open_m = radius_m(bracket->open.pressure_Pa, factor * bracket->open.shear_modulus_Pa);
  const double chord_m = std::numbers::sqrt2 * open_m;
  return chilled_m + open_weight(chord_m, chill->diffusivity_m2_s, bracket->chilled.since_s) * (open_m - chilled_m);
}

Screening screen(const forming::FormingResult& f, double shear_modulus_Pa, const std::optional<HeatSpec>& heat) {
  const std::size_t n = f.points_m.size();
  const std::vector<double> none(n, std::numeric_limits<double>::quiet_NaN());
  Screening s{none, none, none, none};
  if (heat) s.chill = screening_chill(*heat, f, shear_modulus_Pa);
  std::vector<double>* const depths_m[] = {&s.capture_depth_200um_m, &s.capture_depth_500um_m,
                                           &s.capture_depth_1000um_m};
  const bool touches = std::find(f.touching.begin(), f.touching.end(), 1) != f.touching.end();
  if (touches) slot_factor(1.0, 1.0, 1.0);  // makes its table before the threads part
#pragma omp parallel for schedule(dynamic, 64)
  for (std::size_t i = 0; i < n; ++i) {
    if (!f.touching[i] || !(f.pressure_since_Pa[i] > 0.0)) continue;
    s.finest_radius_m[i] = screened_radius_m(f, s.chill, i, shear_modulus_Pa);
    for (std::size_t k = 0; k < kScreenedWidths_m.size(); ++k)
      (*depths_m[k])[i] = screened_depth_m(f, s.chill, i, k, shear_modulus_Pa);
  }
  return s;
}

}  // namespace pellicle::imprint
