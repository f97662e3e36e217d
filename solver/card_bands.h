// How far may the numbers be off that a case has from its cards? What `spread` moves beside the bands that SheetSpec
// and ResinSpec hold.
#pragma once

#include "solver/sheet/relaxation.h"
#include "solver/sheet/sheet_spec.h"

#include <optional>
#include <string>
#include <vector>

namespace pellicle {

/// What a card says of how a material conducts and stores heat.
struct HeatNumbers {
  Estimate conductivity_W_mK;
  Estimate specific_heat_J_kgK;
  Estimate density_kg_m3;  ///< low = high where the case gives it
};

/// One number of a card's relaxation at the ends of its band, and the law that this makes: all else as it is, network
/// and modes times one factor that keeps the modulus of card or case.
struct UnsureLaw {
  std::string name, low, high, why;  ///< as of Unsure (spread.h)
  sheet::HotLaw at_low, at_high;
};

struct CardBands {
  std::optional<HeatNumbers> sheet = {};  ///< none: no card of the polymer, or one that does not tell
  std::optional<HeatNumbers> mould = {};  ///< of the card in mould.resin
  std::vector<UnsureLaw> laws = {};       ///< of the heat's law; empty: it has none
  std::vector<std::string> no_laws = {};  ///< names of those with an end that makes no law, and why
};

}  // namespace pellicle
