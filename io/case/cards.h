// What is known of a polymer or a printing resin? Cards built into the program, a source and a mark on every number.
#pragma once

#include "solver/case.h"
#include "solver/sheet/polymer.h"
#include "solver/sheet/relaxation.h"

#include <optional>
#include <string>
#include <vector>

namespace pellicle::cases {

/// Texts of cases/cards/*.toml, compiled in.
extern const char* const kPolymerCards;
extern const char* const kResinCards;

/// One number of a card in SI, with the band in which the true one may lie.
struct CardNumber {
  std::string name;    ///< "shear_modulus"
  Estimate value;      ///< low = likely = high where no band is known
  std::string unit;    ///< as written in the card
  std::string mark;    ///< seen, computed, from memory, estimate, common practice
  std::string source;  ///< in our words
};
/// "0.22 MPa (0.15 to 0.3 MPa)".
std::string value_text(const CardNumber& number);
/// "estimate: ...".
std::string note_text(const CardNumber& number);

/// One mode of the polymer: its modulus, and its time, which is chosen.
struct ModeCard {
  CardNumber modulus;  ///< Pa
  double time_s;
};
/// The polymer with time and temperature in it.
struct RelaxationCard {
  CardNumber glass_transition;  ///< K
  CardNumber shift_c1;
  CardNumber shift_c2;           ///< K
  double shift_temperature_K;    ///< at which both hold
  CardNumber network;            ///< shear modulus of what never relaxes, Pa
  double network_temperature_K;  ///< at which it and the times of the modes hold
  std::vector<ModeCard> modes;
  ModeCard glass;  ///< its time at the glass transition
};
/// Likely numbers as a law. Below the glass transition the shift goes on as Arrhenius without a kink.
struct CardLaw {
  sheet::NeoHookean network;
  sheet::Relaxation relaxation;  ///< the glass last
};
CardLaw law_of(const RelaxationCard& card);

/// The polymer below its set temperature.
struct SolidCard {
  CardNumber elastic_modulus;  ///< Pa
  CardNumber poisson;
  CardNumber expansion;     ///< linear, 1/K
  CardNumber yield_strain;  ///< of a brittle one: at break
  CardNumber shrinkage;     ///< share of a length, on a male mould
};

/// A law that says more than one modulus, measured on the hot sheet.
struct HyperelasticCard {
  sheet::Polymer law;
  double at_K;  ///< at which it holds
  std::string mark, source;
};
/// Its numbers by the keys of [sheet.law], kind first.
struct CardLawNumber {
  std::string key, word;       ///< word: of kind
  std::vector<double> values;  ///< SI
};
std::vector<CardLawNumber> law_numbers(const sheet::Polymer& law);

struct PolymerCard {
  std::string name;
  std::string title;
  CardNumber shear_modulus;                 ///< of a neo-hookean law, Pa
  double modulus_temperature_K;             ///< at which it holds
  CardNumber density;                       ///< as bought, at room temperature, kg/m^3
  std::optional<CardNumber> stretch_limit;  ///< largest principal stretch before tearing
  CardNumber forming_temperature;           ///< lower, normal, upper, K
  CardNumber set_temperature;               ///< below it the part keeps its shape, K
  std::optional<CardNumber> conductivity;   ///< of heat, W/mK
  std::optional<CardNumber> specific_heat;  ///< J/kgK; likely = at forming temperature, low = at room temperature
  std::optional<RelaxationCard> relaxation;
  std::optional<SolidCard> solid;
  std::optional<HyperelasticCard> law;  ///< none: neo-hookean with shear_modulus
};

/// For taking the part off; none if the card does not tell.
std::optional<SolidPolymer> solid_of(const PolymerCard& card);

struct ResinCard {
  std::string name;
  std::string title;
  std::vector<CardNumber> numbers;  ///< deflection temperatures, modulus, strength, conductivity, specific heat,
                                    ///< density, Poisson's ratio, expansion, share of the strength across layers
  bool softens = true;              ///< ResinSpec::softens; the card may leave it out
};
ResinSpec spec_of(const ResinCard& card);

const std::vector<PolymerCard>& known_polymers();
const std::vector<ResinCard>& known_resins();
/// Null if there is no such card.
const PolymerCard* find_polymer(const std::string& name);
const ResinCard* find_resin(const std::string& name);

/// For tests: the same reading on another text.
std::vector<PolymerCard> read_polymer_cards(const std::string& text, const std::string& name);
std::vector<ResinCard> read_resin_cards(const std::string& text, const std::string& name);

}  // namespace pellicle::cases
