// How far may the numbers of the cards be off that a case goes by?
#pragma once

#include "io/case/cards.h"
#include "io/case/values.h"
#include "solver/card_bands.h"

#include <functional>

namespace pellicle::cases {

/// Heat of sheet and mould: of the cards that the case names, its own density where it gives one.
CardBands read_heat_bands(const Values& values, const Case& c);

/// Adds the law at the ends of each number of the card's relaxation that has a band: law_at(card) is the law that a
/// card makes.
void add_laws(const RelaxationCard& card, const std::function<sheet::HotLaw(const RelaxationCard&)>& law_at,
              CardBands& bands);

}  // namespace pellicle::cases
