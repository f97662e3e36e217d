// How fast does gas pass a throat? Isentropic orifice flow of dry air, choked or not. Depends on nothing.
#pragma once

#include <cmath>

namespace pellicle::air {

constexpr double kAtmosphere_Pa = 101325.0;
constexpr double kGasConstant_J_kgK = 287.05;  ///< dry air (ISO 2533 standard atmosphere; from memory)
constexpr double kHeatRatio = 1.4;             ///< gamma of dry air
constexpr double kRoom_K = 293.15;             ///< 20 degC: supply and chamber
constexpr double kDischarge = 0.7;             ///< Cd of a sharp drilled throat, 0.6-0.8 in use (common practice)

/// Mass flow from pressure p1 to p2 (absolute, p1 >= p2 > 0) through an area [kg/s].
/// With r = p2/p1: m' = Cd A p1 sqrt(2 gamma/((gamma-1) R T1) (r^(2/gamma) - r^((gamma+1)/gamma))), and below the
/// critical ratio r* = (2/(gamma+1))^(gamma/(gamma-1)) = 0.528 the flow is choked: r = r*. Any text on compressible
/// flow.
inline double mass_flow_kg_s(double p1_Pa, double p2_Pa, double area_m2, double temperature_K = kRoom_K,
                             double discharge = kDischarge) {
  constexpr double g = kHeatRatio;
  const double critical = std::pow(2.0 / (g + 1.0), g / (g - 1.0));
  const double r = std::fmin(1.0, std::fmax(p2_Pa / p1_Pa, critical));
  const double under = std::pow(r, 2.0 / g) - std::pow(r, (g + 1.0) / g);
  return discharge * area_m2 * p1_Pa *
         std::sqrt(2.0 * g / ((g - 1.0) * kGasConstant_J_kgK * temperature_K) * std::fmax(0.0, under));
}

}  // namespace pellicle::air
