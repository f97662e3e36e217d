// Which numbers of the cards are known only within a band, and what becomes of a case at either end?
#include "solver/prepare.h"
#include "solver/sheet/relaxation.h"
#include "solver/spread.h"

#include <fmt/format.h>

#include <cmath>
#include <string>
#include <utility>
#include <vector>

namespace pellicle {
namespace {

constexpr const char* kCard = "the band of the card";

/// How a number is told: times `factor` less `offset`, and its unit.
struct Words {
  double factor = 1.0, offset = 0.0;
  const char* unit = "";
  std::string operator()(double value) const { return fmt::format("{:.4g}{}", factor * value - offset, unit); }
};
constexpr Words kPlain{}, kGiga{1e-9, 0.0, " GPa"}, kMega{1e-6, 0.0, " MPa"}, kMicro{1e6, 0.0, "e-6 1/K"};
constexpr Words kConducts{1.0, 0.0, " W/(m K)"}, kStores{1e-3, 0.0, " kJ/(kg K)"}, kWeighs{1.0, 0.0, " kg/m^3"};

/// Adds the number if its band has a width. set(case, value) puts it where it is used.
template <class Set>
void add(const Case& c, const char* name, const Estimate& band, const Words& words, Anew anew, const Set& set,
         std::vector<Unsure>& numbers) {
  if (!(band.low < band.high)) return;
  Unsure number{name, words(band.low), words(band.high), kCard, c, c, anew};
  set(*number.at_low, band.low), set(*number.at_high, band.high);
  numbers.push_back(std::move(number));
}

/// Where the sheet's heat is followed the forming feels them, else the mould's body if it is asked.
void add_heat_of_sheet(const Case& c, std::vector<Unsure>& numbers) {
  const bool warms_body = c.mould && c.mould->build && c.mould->build->polymer;
  if (!c.bands.sheet) return;
  const HeatNumbers& card = *c.bands.sheet;
  const auto put = [](double sheet::HeatMaterial::*number) {
    return [number](Case& other, double value) {
      if (other.heat) other.heat->polymer.*number = value;
      if (other.mould && other.mould->build && other.mould->build->polymer)
        (*other.mould->build->polymer).*number = value;
    };
  };
  const Anew anew = c.heat ? Anew::kAll : Anew::kMould;
  if (c.heat || warms_body) {
    add(c, "heat conductivity of the sheet", card.conductivity_W_mK, kConducts, anew,
        put(&sheet::HeatMaterial::conductivity_W_mK), numbers);
    add(c, "specific heat of the sheet", card.specific_heat_J_kgK, kStores, anew,
        put(&sheet::HeatMaterial::specific_heat_J_kgK), numbers);
  }
  if (c.heat || warms_body || c.sheet.sags || c.numerics.pace == Pace::kReal)
    add(
        c, "density of the sheet", card.density_kg_m3, kWeighs, Anew::kAll,
        [&](Case& other, double value) {
          other.sheet.density_kg_m3 = value;
          put (&sheet::HeatMaterial::density_kg_m3)(other, value);
        },
        numbers);
}

/// By the law that its number makes; the stiffness that pace and screening go by with it.
Case with_law(Case c, const sheet::HotLaw& law) {
  if (c.heat->temperature_to_modulus) {
    const auto left_Pa = [&](const sheet::HotLaw& of) {
      return sheet::modulus_after_Pa(of, c.heat->start_K, sheet::kFormingTime_s);
    };
    const double factor = left_Pa(law) / left_Pa(*c.heat->law);
    std::get<sheet::NeoHookean>(c.sheet.law).shear_modulus_Pa *= factor;
    if (auto& band = c.sheet.shear_modulus_Pa) *band = {factor * band->likely, factor * band->low, factor * band->high};
  }
  c.heat->law = law;
  return c;
}

/// What the sheet is formed by is alike: where glass is capped its modulus is, and all of it where no temperature
/// counts.
bool form_alike(const Case& a, const Case& b) {
  const auto one = forming::forming_law(forming_spec(a)), two = forming::forming_law(forming_spec(b));
  if (!one || !two) return !one && !two;
  const auto numbers = [](const sheet::HotLaw& law) {
    const sheet::TimeShift& s = law.relaxation.shift;
    std::vector<double> all{law.network.shear_modulus_Pa, s.reference_K, s.c1, s.c2_K, s.limit_K, s.activation_J_mol};
    for (const sheet::RelaxationMode& mode : law.relaxation.modes)
      all.push_back(mode.modulus_Pa), all.push_back(mode.time_s);
    return all;
  };
  return numbers(*one) == numbers(*two);
}

void add_laws(const Case& c, std::vector<Unsure>& numbers) {
  if (!c.heat || !c.heat->law) return;
  for (const UnsureLaw& law : c.bands.laws) {
    Unsure number{law.name, law.low, law.high, law.why, with_law(c, law.at_low), with_law(c, law.at_high)};
    if (form_alike(c, *number.at_low) && form_alike(c, *number.at_high)) number.anew = Anew::kAnswers;
    numbers.push_back(std::move(number));
  }
}

void add_solid_sheet(const Case& c, std::vector<Unsure>& numbers) {
  if (c.sheet.stretch_limit)
    add(
        c, "stretch before tearing", *c.sheet.stretch_limit, kPlain, Anew::kPart,
        [](Case& other, double value) { other.sheet.stretch_limit->likely = value; }, numbers);
  if (!c.mould || !c.sheet.solid) return;
  const auto of = [&](const char* name, Estimate SolidPolymer::*member, const Words& words) {
    add(
        c, name, *c.sheet.solid.*member, words, Anew::kPart,
        [member](Case& other, double value) { (*other.sheet.solid.*member).likely = value; }, numbers);
  };
  of("modulus of the solid sheet", &SolidPolymer::elastic_modulus_Pa, kGiga);
  of("Poisson's ratio of the solid sheet", &SolidPolymer::poisson, kPlain);
  of("expansion of the solid sheet", &SolidPolymer::expansion_1_K, kMicro);
}

/// What of the resin's heat the forming feels too: the sheet meets sqrt(k rho cp).
void add_heat_of_mould(const Case& c, std::vector<Unsure>& numbers) {
  const bool warms_body = c.mould && c.mould->build && c.mould->build->polymer;
  if (!c.bands.mould || !(c.heat || warms_body)) return;
  const auto of = [&](const char* name, Estimate HeatNumbers::*member, Estimate ResinSpec::*of_resin,
                      const Words& words) {
    add(
        c, name, *c.bands.mould.*member, words, c.heat ? Anew::kAll : Anew::kMould,
        [member, of_resin](Case& other, double value) {
          HeatNumbers resin = *other.bands.mould;
          (resin.*member).likely = value;
          if (other.heat)
            other.heat->mould_effusivity_Ws05_m2K = std::sqrt(
                resin.conductivity_W_mK.likely * resin.density_kg_m3.likely * resin.specific_heat_J_kgK.likely);
          if (other.mould->build) (other.mould->build->resin.*of_resin).likely = value;
        },
        numbers);
  };
  of("heat conductivity of the resin", &HeatNumbers::conductivity_W_mK, &ResinSpec::conductivity_W_mK, kConducts);
  of("specific heat of the resin", &HeatNumbers::specific_heat_J_kgK, &ResinSpec::specific_heat_J_kgK, kStores);
  of("density of the resin", &HeatNumbers::density_kg_m3, &ResinSpec::density_kg_m3, kWeighs);
}

/// Whether the mould bears it: nothing that the sheet feels.
void add_body(const Case& c, std::vector<Unsure>& numbers) {
  if (!c.mould || !c.mould->build) return;
  const ResinSpec& resin = c.mould->build->resin;
  const Estimate &soft = resin.deflects_at_045_K, &firm = resin.deflects_at_180_K;
  if (soft.low < soft.high || firm.low < firm.high) {
    const auto words = [](double at_045_K, double at_180_K) {
      return fmt::format("{:.0f} and {:.0f} °C", at_045_K - 273.15, at_180_K - 273.15);
    };
    Unsure number{"deflection temperatures of the resin",
                  words(soft.low, firm.low),
                  words(soft.high, firm.high),
                  "the bands of the card at 0.45 and 1.80 MPa, both together",
                  c,
                  c,
                  Anew::kMould};
    const auto put = [](Case& other, double at_045_K, double at_180_K) {
      other.mould->build->resin.deflects_at_045_K.likely = at_045_K;
      other.mould->build->resin.deflects_at_180_K.likely = at_180_K;
    };
    put(*number.at_low, soft.low, firm.low), put(*number.at_high, soft.high, firm.high);
    numbers.push_back(std::move(number));
  }
  const auto of = [&](const char* name, Estimate ResinSpec::*member, const Words& words) {
    add(
        c, name, resin.*member, words, Anew::kMould,
        [member](Case& other, double value) { (other.mould->build->resin.*member).likely = value; }, numbers);
  };
  of("modulus of the resin", &ResinSpec::modulus_Pa, kGiga);
  of("Poisson's ratio of the resin", &ResinSpec::poisson, kPlain);
  of("strength of the resin", &ResinSpec::strength_Pa, kMega);
  of("strength of the resin across its layers, as a share", &ResinSpec::across_layers, kPlain);
  of("expansion of the resin", &ResinSpec::expansion_1_K, kMicro);
}

}  // namespace

void add_card_numbers(const Case& c, std::vector<Unsure>& numbers) {
  add_heat_of_sheet(c, numbers);
  add_laws(c, numbers);
  add_solid_sheet(c, numbers);
  add_heat_of_mould(c, numbers);
  add_body(c, numbers);
}

}  // namespace pellicle
