// How stiff and how strong is printed resin when it is warm, and at what temperature does it give way?
#include "solver/checks/resin.h"

#include "mesh/check.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace pellicle::checks {
namespace {

constexpr double kCrept = 0.002;
/// Of a cross-linked resin above its transition: some 10 to 100 MPa (from memory); the low end.
constexpr double kRubber_Pa = 10e6;

/// log(modulus) over temperature, straight between three points.
struct ModulusLine {
  std::array<double, 3> at_K, log_Pa;

  ModulusLine(const ResinSpec& r, End end)
      : at_K{kRoom_K, end_of(r.deflects_at_180_K, end), end_of(r.deflects_at_045_K, end)} {
    const double room_Pa = end_of(r.modulus_Pa, end);
    log_Pa = {std::log(room_Pa), std::log(modulus_at_deflection_Pa(kMostStress_Pa, room_Pa)),
              std::log(modulus_at_deflection_Pa(kLeastStress_Pa, room_Pa))};
    ensure(at_K[0] < at_K[1] && at_K[1] < at_K[2], "deflection temperatures rise from room temperature");
  }
  std::size_t piece_from(double x, const std::array<double, 3>& points, bool rising) const {
    return (x < points[1]) == rising ? 0 : 1;
  }
  double modulus_Pa(double temperature_K) const {
    const double t = std::max(temperature_K, at_K[0]);
    const std::size_t i = piece_from(t, at_K, true);
    const double line = log_Pa[i] + (t - at_K[i]) / (at_K[i + 1] - at_K[i]) * (log_Pa[i + 1] - log_Pa[i]);
    return std::max(kRubber_Pa, std::exp(line));
  }
  double temperature_K(double modulus_Pa) const {
    const double m = std::log(modulus_Pa);
    const std::size_t i = piece_from(m, log_Pa, false);
    return at_K[i] + (m - log_Pa[i]) / (log_Pa[i + 1] - log_Pa[i]) * (at_K[i + 1] - at_K[i]);
  }
};

}  // namespace

double end_of(const Estimate& e, End end) { return end == End::kLow ? e.low : end == End::kHigh ? e.high : e.likely; }

double modulus_at_deflection_Pa(double stress_Pa, double room_modulus_Pa) {
  return stress_Pa / (kCrept + stress_Pa / room_modulus_Pa);
}

double modulus_Pa(const ResinSpec& resin, double temperature_K, End end) {
  if (!resin.softens && temperature_K < end_of(resin.deflects_at_045_K, end)) return end_of(resin.modulus_Pa, end);
  return ModulusLine(resin, end).modulus_Pa(temperature_K);
}

double strength_Pa(const ResinSpec& resin, double temperature_K, End end) {
  const double softened = modulus_Pa(resin, temperature_K, end) / end_of(resin.modulus_Pa, end);
  return end_of(resin.strength_Pa, end) * (end == End::kHigh ? std::sqrt(softened) : softened);
}

double deflection_temperature_K(const ResinSpec& resin, double stress_Pa, End end) {
  const double counts_Pa = std::max(kLeastStress_Pa, resin.softens ? stress_Pa : std::min(stress_Pa, kMostStress_Pa));
  const double wanted_Pa = modulus_at_deflection_Pa(counts_Pa, end_of(resin.modulus_Pa, end));
  return ModulusLine(resin, end).temperature_K(wanted_Pa);
}

GivesWay gives_way(const ResinSpec& resin, double working_Pa) {
  const double likely_K = deflection_temperature_K(resin, working_Pa);
  const bool beyond_card = resin.softens && working_Pa > kMostStress_Pa;
  const double fails_K = beyond_card ? std::max(likely_K, resin.deflects_at_180_K.likely) : likely_K;
  return {likely_K, deflection_temperature_K(resin, working_Pa, End::kLow), fails_K, beyond_card};
}

}  // namespace pellicle::checks
