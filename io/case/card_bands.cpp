// How far may the numbers of the cards be off that a case goes by?
#include "io/case/card_bands.h"

#include "io/case/units.h"
#include "mesh/check.h"

#include <fmt/format.h>

#include <algorithm>
#include <optional>
#include <utility>

namespace pellicle::cases {
namespace {

/// Puts a number of the card to an end of its band.
using Set = std::function<void(RelaxationCard&, double Estimate::*end)>;

void set(CardNumber& number, double Estimate::*end) { number.value.likely = number.value.*end; }

bool has_band(const CardNumber& number) { return number.value.low < number.value.high; }

/// WLF holds from the glass transition on, so the shift goes along with it.
void move_glass(RelaxationCard& card, double Estimate::*end) {
  const double was_K = card.glass_transition.value.likely;
  set(card.glass_transition, end);
  card.shift_temperature_K += card.glass_transition.value.likely - was_K;
}

/// Low: the quick modes at their low ends, the slow ones at their high, so that it forgets slowly; high: the other way
/// round. What lasts as long as forming takes stays.
void tilt_modes(RelaxationCard& card, double Estimate::*end) {
  const auto other = end == &Estimate::low ? &Estimate::high : &Estimate::low;
  for (ModeCard& mode : card.modes) {
    if (mode.time_s < sheet::kFormingTime_s) set(mode.modulus, end);
    if (mode.time_s > sheet::kFormingTime_s) set(mode.modulus, other);
  }
}

std::string words(const CardNumber& number, double Estimate::*end) {
  const double value = number.value.*end;
  return number.unit.empty() ? fmt::format("{:.3g}", value) : format_in(value, number.unit);
}

}  // namespace

CardBands read_heat_bands(const Values& values, const Case& c) {
  CardBands bands = c.bands;
  const PolymerCard* polymer = values.polymer();
  if (polymer != nullptr && polymer->conductivity && polymer->specific_heat) {
    const double own = c.sheet.density_kg_m3;
    bands.sheet = {
        polymer->conductivity->value, polymer->specific_heat->value,
        values.at("sheet.density").origin == Origin::kCase ? Estimate{own, own, own} : polymer->density.value};
  }
  if (const Value* name = values.find("mould.resin")) {
    const ResinSpec resin = spec_of(*find_resin(name->text));
    bands.mould = {resin.conductivity_W_mK, resin.specific_heat_J_kgK, resin.density_kg_m3};
  }
  return bands;
}

void add_laws(const RelaxationCard& card, const std::function<sheet::HotLaw(const RelaxationCard&)>& law_at,
              CardBands& bands) {
  const auto add = [&](const std::string& name, const std::string& low, const std::string& high, const std::string& why,
                       const Set& put) {
    const auto at = [&](double Estimate::*end) {
      RelaxationCard other = card;
      put(other, end);
      const sheet::HotLaw law = law_at(other);
      sheet::check(law.relaxation);
      return law;
    };
    try {
      bands.laws.push_back({name, low, high, why, at(&Estimate::low), at(&Estimate::high)});
    } catch (const Error& error) {  // a card is read by its likely numbers: nobody said that the ends make a law
      bands.no_laws.push_back(fmt::format("{}: an end of its band makes no law, {}", name, error.what()));
    }
  };
  const auto number = [&](const char* name, const CardNumber& of, const Set& put) {
    if (has_band(of)) add(name, words(of, &Estimate::low), words(of, &Estimate::high), "the band of the card", put);
  };
  const auto member = [](CardNumber RelaxationCard::*of) {
    return [of](RelaxationCard& other, double Estimate::*end) { set(other.*of, end); };
  };
  number("glass transition of the sheet", card.glass_transition, move_glass);
  number("shift with temperature, c1", card.shift_c1, member(&RelaxationCard::shift_c1));
  number("shift with temperature, c2", card.shift_c2, member(&RelaxationCard::shift_c2));
  number("stiffness that never relaxes, beside all that does", card.network, member(&RelaxationCard::network));
  if (std::any_of(card.modes.begin(), card.modes.end(), [](const ModeCard& m) { return has_band(m.modulus); }))
    add("how the sheet relaxes", "slowly", "quickly", "the bands of the card's modes, quick ones against slow ones",
        tilt_modes);
  number("stiffness of the frozen sheet", card.glass.modulus,
         [](RelaxationCard& other, double Estimate::*end) { set(other.glass.modulus, end); });
}

}  // namespace pellicle::cases
