// How stiff and how strong is printed resin when it is warm, and at what temperature does it give way?
//
// docs/theory/mould_strength.md.
#pragma once

#include "solver/sheet/sheet_spec.h"

#include <string>

namespace pellicle {

/// A resin card's numbers after the supplier's full cure.
struct ResinSpec {
  std::string name;
  Estimate deflects_at_045_K;  ///< deflection temperature at 0.45 MPa bending stress
  Estimate deflects_at_180_K;  ///< ... at 1.80 MPa
  Estimate modulus_Pa;         ///< Young's, room temperature
  Estimate poisson;
  Estimate strength_Pa;    ///< bending, room temperature
  Estimate across_layers;  ///< share of the strength where layers are pulled apart
  Estimate conductivity_W_mK;
  Estimate specific_heat_J_kgK;
  Estimate density_kg_m3;
  Estimate expansion_1_K;  ///< linear, as a glass
  bool softens = true;     ///< false of a metal: below deflects_at_045_K it keeps modulus and strength
};

}  // namespace pellicle

namespace pellicle::checks {

/// Which end of the bands.
enum class End { kLow, kLikely, kHigh };
double end_of(const Estimate& estimate, End end);

inline constexpr double kLeastStress_Pa = 0.45e6;  ///< below it no card tells a deflection temperature
inline constexpr double kMostStress_Pa = 1.80e6;   ///< ... and beyond it
inline constexpr double kRoom_K = 296.15;  ///< 23 degrees C, at which moduli and strengths of cards are measured

/// Modulus with which a bar under this bending stress has crept by the 0.2 % of strain that a deflection temperature
/// is defined by (ISO 75; from memory), beyond what it bends at room temperature: E = s/(0.002 + s/E0) (after Takemori,
/// Polym. Eng. Sci. 19 (1979) 1104; from memory).
double modulus_at_deflection_Pa(double stress_Pa, double room_modulus_Pa);

/// Its logarithm goes straight from room temperature to the deflection temperatures at 1.80 and 0.45 MPa, and on
/// down to 10 MPa, as of a cross-linked resin above its transition; below room temperature it is the card's. What does
/// not soften keeps the card's below its deflection temperature at 0.45 MPa; what it has above is not known, and the
/// line is taken for the low side.
double modulus_Pa(const ResinSpec& resin, double temperature_K, End end = End::kLikely);

/// Strength falls as the modulus does, so that the strain at break stays (an estimate; at the high end as its root).
double strength_Pa(const ResinSpec& resin, double temperature_K, End end = End::kLikely);

/// Where modulus_Pa falls to modulus_at_deflection_Pa of this stress: the card's own temperatures at 0.45 and 1.80 MPa.
/// Stresses below 0.45 MPa count as that. Beyond 1.80 MPa the line is led on, which no card bears out; what does not
/// soften keeps its temperature at 1.80 MPa.
double deflection_temperature_K(const ResinSpec& resin, double stress_Pa, End end = End::kLikely);

/// Where a part under this stress gives way: likely, at the card's low end, and past which it surely does.
struct GivesWay {
  double likely_K, low_K, fails_K;
  bool beyond_card;  ///< led on beyond 1.80 MPa: only the card's temperature there is proof of failing
};
GivesWay gives_way(const ResinSpec& resin, double working_Pa);

}  // namespace pellicle::checks
