// What sheet is clamped, how hot, of what? Plain checked values in SI.
#pragma once

#include "mesh/sheet_mesher.h"
#include "solver/sheet/polymer.h"

#include <optional>
#include <string>

namespace pellicle {

/// A number of a card with the band in which the true value may lie.
struct Estimate {
  double likely;
  double low;
  double high;
};

/// How far the expansion of hot sheet may be off either way: an estimate, as it is above the glass transition.
inline constexpr double kExpansionSpread = 1.5;

/// Sheet on a tool: 0.1 to 0.3 below the forming range (10.3139/217.1702, read).
inline constexpr Estimate kPartFriction{0.2, 0.1, 0.3};
/// Printed resins, filled to unfilled, below their transition (supplier data, typical: from memory).
inline constexpr Estimate kMouldExpansion_1_K{90e-6, 40e-6, 120e-6};
/// How far the mould has warmed towards the set temperature when the part is taken off, and then shrinks with it: not
/// at all under the first part, all through in a long series. An estimate.
inline constexpr Estimate kMouldWarmed{0.3, 0.0, 1.0};

/// What is known of the polymer once it is solid, for taking the part off. Numbers of a card, near room temperature.
struct SolidPolymer {
  Estimate elastic_modulus_Pa;
  Estimate poisson;
  Estimate expansion_1_K;  ///< linear
  Estimate yield_strain;   ///< of a brittle one: at break
  Estimate shrinkage;      ///< share of a length, on a male mould
  double set_temperature_K;
  // What belongs to the bench.
  double friction = kPartFriction.likely;
  double mould_expansion_1_K = kMouldExpansion_1_K.likely;
  double mould_warmed = kMouldWarmed.likely;
};

struct SheetSpec {
  std::string polymer;  ///< name of the card; empty if the case gives the law alone
  sheet::Polymer law;
  std::optional<Estimate> shear_modulus_Pa;  ///< of a card: small-strain, hot, with its band
  double density_kg_m3;
  std::optional<Estimate> stretch_limit;  ///< largest principal stretch before tearing [-]
  double thickness_m;
  mesh::Outline outline;
  double height_m;  ///< clamp plane at the start
  double element_m;
  double rim_element_m;         ///< = element_m: uniform
  double fine_element_m = 0.0;  ///< smallest edge that refinement may make, in the flat sheet; 0 or = element_m: none
  double temperature_K;         ///< when the gas comes on
  double expansion = 0.0;       ///< hot and free it is longer than as bought by this share of a length
  bool sags = false;            ///< it hangs under its weight before the first stage, and weighs on
  std::optional<SolidPolymer> solid = {};  ///< none without a card

  bool refines() const { return fine_element_m > 0.0 && fine_element_m < element_m * (1.0 - 1e-9); }
};

}  // namespace pellicle
