// How is a card of a polymer written, so that it can be read again? As in cases/cards/polymers.toml.
#pragma once

#include "io/case/cards.h"

#include <string>

namespace pellicle::cases {

/// Title and shear modulus: all that is known where no other card is near.
std::string card_head(const PolymerCard& card);
/// All else of the card, below its head.
std::string card_rest(const PolymerCard& card);

}  // namespace pellicle::cases
