// How sharp a corner and how deep a fine stroke will the sheet follow, anywhere on the part?
#include "solver/imprint/screening.h"

#include "solver/imprint/slot_table.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace pellicle::imprint {
namespace {

/// Phi of the slot table. Beyond its stretches the sheet is a membrane, stiff by its tension alone, which grows with
/// the square of r = across^2 along.
double phi(double ratio, double across, double along) {
  constexpr double kMost = 64.0;
  const double r = across * across * along, less = r > kMost ? std::cbrt(kMost / r) : 1.0;
  return slot_factor(ratio, less * across, less * along) * std::pow(less, 6.0);
}

}  // namespace

double depth_correction(double ratio) { return 0.27 + (0.1 - 0.27) * std::clamp(std::log2(ratio), 0.0, 1.0); }

double stroke_depth_m(double width_m, double thickness_m, double stretch_1, double stretch_2, double shear_modulus_Pa,
                      double pressure_Pa) {
  const double ratio = width_m / thickness_m;
  const double least = std::min(phi(ratio, stretch_1, stretch_2), phi(ratio, stretch_2, stretch_1));
  const double linear_m = least * pressure_Pa * width_m / (4.0 * shear_modulus_Pa);
  return linear_m / (1.0 + depth_correction(ratio) * linear_m / width_m);
}

double finest_radius_m(double thickness_m, double stretch_1, double stretch_2, double element_m,
                       double shear_modulus_Pa, double pressure_Pa) {
  constexpr double kThinning = 4.0 / std::numbers::pi - 1.0;
  const auto across = [&](double ln, double lt) {
    // Membrane equilibrium of the free arc at radius r, thinner and more stretched than at r = element.
    const auto balance = [&](double r) {
      const double more = r < element_m ? std::pow(element_m / r, kThinning) : 1.0;
      const double l = ln * more, h = thickness_m / more;
      return shear_modulus_Pa * h * (l * l - 1.0 / (l * l * lt * lt)) / pressure_Pa;
    };
    if (balance(element_m) >= element_m) return balance(element_m);
    double low = 1e-6 * element_m, high = element_m;  // balance falls with r, so r - balance(r) changes sign once
    for (int k = 0; k < 60; ++k) {
      const double r = std::sqrt(low * high);
      (r < balance(r) ? low : high) = r;
    }
    return high;
  };
  return std::max({across(stretch_1, stretch_2), across(stretch_2, stretch_1), 0.0});
}

Screening screen(const forming::FormingResult& f, double shear_modulus_Pa) {
  const std::size_t n = f.points_m.size();
  const std::vector<double> none(n, std::numeric_limits<double>::quiet_NaN());
  Screening s{none, none, none, none};
#pragma omp parallel for schedule(dynamic, 64)
  for (std::size_t i = 0; i < n; ++i) {
    const double p = f.pressure_since_Pa[i], h = f.thickness_m[i];
    if (!f.touching[i] || !(p > 0.0)) continue;
    s.finest_radius_m[i] = finest_radius_m(h, f.stretch_1[i], f.stretch_2[i], f.element_m[i], shear_modulus_Pa, p);
    s.capture_depth_200um_m[i] = stroke_depth_m(0.2e-3, h, f.stretch_1[i], f.stretch_2[i], shear_modulus_Pa, p);
    s.capture_depth_500um_m[i] = stroke_depth_m(0.5e-3, h, f.stretch_1[i], f.stretch_2[i], shear_modulus_Pa, p);
    s.capture_depth_1000um_m[i] = stroke_depth_m(1.0e-3, h, f.stretch_1[i], f.stretch_2[i], shear_modulus_Pa, p);
  }
  return s;
}

}  // namespace pellicle::imprint
