// Which numbers of a case are not well known, and how far may each be off?
#include "solver/sheet/heater.h"
#include "solver/spread.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace pellicle {
namespace {

// A number that nobody gave a band for: ours, wide on purpose.
constexpr double kUnknownFactor = 1.5;
constexpr double kGauge = 0.10;       // of the sheet as bought: fabricator guides (seen)
constexpr double kPressure = 0.10;    // regulator and line at the bench: estimate
constexpr double kSheet_K = 5.0;      // a heater and its thermometer: estimate
constexpr double kSet_K = 5.0;        // guideline tables give one number, from memory: estimate
constexpr double kMould_K = 10.0;     // warms from part to part: estimate
constexpr double kHalving_K = 15.0;   // the modulus halves in 10 to 20 K: computed for polystyrene
constexpr double kHotFriction = 0.3;  // below the glass transition 0.1 to 0.3, more when hot: seen
constexpr double kLeastFriction = 0.1;
constexpr double kLeastPressure_Pa = -0.9e5, kMostPressure_Pa = 1e6;  // what a stage may ask for

struct TimesLaw {
  double factor;
  sheet::Polymer operator()(sheet::NeoHookean law) const {
    law.shear_modulus_Pa *= factor;
    return law;
  }
  sheet::Polymer operator()(sheet::MooneyRivlin law) const {
    law.c10_Pa *= factor, law.c01_Pa *= factor;
    return law;
  }
  sheet::Polymer operator()(sheet::Yeoh law) const {
    law.c10_Pa *= factor, law.c20_Pa *= factor, law.c30_Pa *= factor;
    return law;
  }
  sheet::Polymer operator()(sheet::Ogden law) const {
    for (double& mu_Pa : law.mu_Pa) mu_Pa *= factor;
    return law;
  }
};

/// The law that the sheet is formed with, and its band with it.
void scale_law(Case& c, double factor) {
  c.sheet.law = std::visit(TimesLaw{factor}, c.sheet.law);
  if (auto& band = c.sheet.shear_modulus_Pa) *band = {factor * band->likely, factor * band->low, factor * band->high};
}

/// The sheet's stiffness wherever it is used: network and modes too, and the states that reliefs were given.
Case stiffer(Case c, double factor) {
  scale_law(c, factor);
  if (c.heat && c.heat->law) c.heat->law = sheet::scaled(*c.heat->law, factor);
  for (imprint::ReliefSpec& relief : c.reliefs) {
    if (!relief.state) continue;
    relief.state->shear_modulus_Pa *= factor;
    relief.state->skin_shear_modulus_Pa *= factor;
  }
  return c;
}

/// A warmer sheet is softer. By the card's law where there is one; else by half in kHalving_K, if it is a plastic.
Case warmer(Case c, double by_K) {
  const double from_K = c.heat ? c.heat->start_K : c.sheet.temperature_K, to_K = from_K + by_K;
  double factor = c.sheet.polymer.empty() ? 1.0 : std::exp2(-by_K / kHalving_K);
  if (c.heat && c.heat->law)
    factor = sheet::modulus_after_Pa(*c.heat->law, to_K, sheet::kFormingTime_s) /
             sheet::modulus_after_Pa(*c.heat->law, from_K, sheet::kFormingTime_s);
  scale_law(c, factor);
  c.sheet.temperature_K += by_K;
  if (c.heat) c.heat = sheet::warmer(*c.heat, by_K);
  return c;
}

Case thicker(Case c, double factor) {
  c.sheet.thickness_m *= factor;
  for (imprint::ReliefSpec& relief : c.reliefs) {
    if (!relief.state) continue;
    relief.state->thickness_m *= factor;
    relief.state->skin_thickness_m *= factor;
  }
  return c;
}

/// By its own estimate or the case's number: nobody gave a band for either.
Case expanding(Case c, double factor) {
  c.sheet.expansion *= factor;
  return c;
}

double within_stage(double pressure_Pa) { return std::clamp(pressure_Pa, kLeastPressure_Pa, kMostPressure_Pa); }

Case pressed(Case c, double factor) {
  for (StageSpec& stage : c.stages) {
    if (auto* drive = std::get_if<PressureDrive>(&stage.drive))
      drive->pressure_Pa = within_stage(factor * drive->pressure_Pa);
    if (auto* gas = std::get_if<GasDrive>(&stage.drive)) gas->supply_Pa = within_stage(factor * gas->supply_Pa);
  }
  for (imprint::ReliefSpec& relief : c.reliefs)
    if (relief.state) relief.state->pressure_Pa *= factor;
  return c;
}

bool has_pressure(const Case& c) {
  const auto pushes = [](const StageSpec& stage) {
    const auto* drive = std::get_if<PressureDrive>(&stage.drive);
    return std::holds_alternative<GasDrive>(stage.drive) || (drive != nullptr && drive->pressure_Pa != 0.0);
  };
  return std::any_of(c.stages.begin(), c.stages.end(), pushes) ||
         std::any_of(c.reliefs.begin(), c.reliefs.end(), [](const auto& relief) { return relief.state.has_value(); });
}

Case with_friction(Case c, Friction friction) {
  c.mould->friction = friction;
  return c;
}

bool has_body(const Case& c) { return c.mould && c.mould->build; }
/// ... and the heat of the parts goes into it.
bool body_warms(const Case& c) { return has_body(c) && c.mould->build->polymer; }

/// The face the sheet meets and the body below it.
Case mould_warmer(Case c, double by_K) {
  if (c.heat) c.heat->mould_K += by_K;
  if (has_body(c)) c.mould->build->start_K += by_K;
  return c;
}

/// A case with one number of its bench changed, for the sheet's heat and that of the mould's body.
Case with_film(Case c, double HeatSpec::*of_sheet, double MouldBuild::*of_body, double value) {
  if (c.heat) *c.heat.*of_sheet = value;
  if (has_body(c) && of_body != nullptr) *c.mould->build.*of_body = value;
  return c;
}

std::string celsius(double kelvin) { return fmt::format("{:.3g} °C", kelvin - 273.15); }
std::string percent(double share) { return fmt::format("{:.2g} %", 100.0 * share); }
std::string film(double W_m2K) { return fmt::format("{:g} W/(m2 K)", W_m2K); }

Unsure stiffness(const Case& c) {
  const double G_Pa = sheet::small_strain_shear_modulus_Pa(c.sheet.law);
  double low = 1.0 / kUnknownFactor, high = kUnknownFactor;
  std::string why = fmt::format("no band is given for it: a factor of {:g} either way, ours", kUnknownFactor);
  if (const auto& band = c.sheet.shear_modulus_Pa)
    low = band->low / band->likely, high = band->high / band->likely, why = "the band of card or case";
  const auto words = [&](double factor) {
    return G_Pa > 0.0 ? fmt::format("{:.3g} MPa", 1e-6 * G_Pa * factor)
                      : fmt::format("{:.3g} times the state's", factor);
  };
  return {"stiffness of the hot sheet", words(low), words(high), why, stiffer(c, low), stiffer(c, high)};
}

Unsure friction(const Case& c) {
  const Friction now = c.mould->friction;
  const auto slides = [](double coefficient) { return Friction{.stick = false, .coefficient = coefficient}; };
  if (now.stick)
    return {"friction on the mould",
            fmt::format("{:g}", kHotFriction),
            "stick",
            "sheet on tools 0.1 to 0.3 below the glass transition, rising steeply above (seen)",
            with_friction(c, slides(kHotFriction)),
            std::nullopt};
  if (now.coefficient == 0.0)
    return {"friction on the mould",
            "0",
            fmt::format("{:g}", kLeastFriction),
            "sheet on tools 0.1 to 0.3 (seen)",
            std::nullopt,
            with_friction(c, slides(kLeastFriction))};
  const double low = now.coefficient / kUnknownFactor, high = now.coefficient * kUnknownFactor;
  return {"friction on the mould",       fmt::format("{:.2g}", low),
          fmt::format("{:.2g}", high),   fmt::format("a factor of {:g} either way, ours", kUnknownFactor),
          with_friction(c, slides(low)), with_friction(c, slides(high))};
}

/// Of the sheet's heat, and of the mould's body; if that alone is asked, on the sheet as it is.
void add_heat(const Case& c, std::vector<Unsure>& numbers) {
  const Anew anew = c.heat ? Anew::kAll : Anew::kMould;
  const auto add = [&](const char* name, double HeatSpec::*of_sheet, double MouldBuild::*of_body,
                       const Estimate& band) {
    numbers.push_back({name, film(band.low), film(band.high), "estimate, from memory",
                       with_film(c, of_sheet, of_body, band.low), with_film(c, of_sheet, of_body, band.high), anew});
  };
  if (c.heat || body_warms(c)) {
    add("heat passed to the mould where they touch", &HeatSpec::contact_W_m2K, &MouldBuild::contact_W_m2K,
        kContact_W_m2K);
    add("heat passed to the gas", &HeatSpec::gas_film_W_m2K, &MouldBuild::gas_film_W_m2K, kGasFilm_W_m2K);
    add("heat passed to still air", &HeatSpec::still_film_W_m2K, &MouldBuild::still_film_W_m2K, kStillFilm_W_m2K);
  }
  if (c.heat && c.heat->cooling == Cooling::kFan)
    add("heat passed to the air of the fan", &HeatSpec::fan_film_W_m2K, nullptr, kFanFilm_W_m2K);
  if (body_warms(c)) {
    const auto with = [&](double value) {
      Case other = c;
      other.mould->build->base_W_m2K = value;
      return other;
    };
    numbers.push_back({"heat passed from the mould to the platform", film(kBase_W_m2K.low), film(kBase_W_m2K.high),
                       "0.3 to 0.1 mm of air between them, estimate", with(kBase_W_m2K.low), with(kBase_W_m2K.high),
                       Anew::kMould});
  }
  if (!c.heat && !has_body(c)) return;
  const double mould_K = c.heat ? c.heat->mould_K : c.mould->build->start_K;
  numbers.push_back({"temperature of the mould", celsius(mould_K - kMould_K), celsius(mould_K + kMould_K),
                     "it warms from part to part: 10 K either way, ours", mould_warmer(c, -kMould_K),
                     mould_warmer(c, kMould_K), anew});
}

/// Of the part once it is solid: only what is told of taking it off depends on it.
void add_solid(const Case& c, std::vector<Unsure>& numbers) {
  const Estimate& shrinkage = c.sheet.solid->shrinkage;
  const auto add = [&](const char* name, const std::string& low, const std::string& high, const char* why,
                       const auto& set_low, const auto& set_high) {
    Case at_low = c, at_high = c;
    set_low(*at_low.sheet.solid), set_high(*at_high.sheet.solid);
    numbers.push_back({name, low, high, why, std::move(at_low), std::move(at_high), Anew::kPart});
  };
  const auto number = [&](const char* name, double SolidPolymer::*member, const Estimate& band, const char* why,
                          double times, const char* unit) {
    const auto words = [&](double value) { return fmt::format("{:.3g}{}", times * value, unit); };
    add(
        name, words(band.low), words(band.high), why, [&](SolidPolymer& s) { s.*member = band.low; },
        [&](SolidPolymer& s) { s.*member = band.high; });
  };
  add(
      "shrinkage of the sheet's polymer", percent(shrinkage.low), percent(shrinkage.high), "the band of the card",
      [&](SolidPolymer& s) { s.shrinkage.likely = shrinkage.low; },
      [&](SolidPolymer& s) { s.shrinkage.likely = shrinkage.high; });
  number("friction of the part on the mould", &SolidPolymer::friction, kPartFriction,
         "sheet on tools, cooled (seen); no release agent", 1.0, "");
  number("expansion of any printed mould", &SolidPolymer::mould_expansion_1_K, kMouldExpansion_1_K,
         "printed resins, filled to unfilled, from memory", 1e6, "e-6 1/K");
  number("how far the mould has warmed when the part is lifted", &SolidPolymer::mould_warmed, kMouldWarmed,
         "first part to a long series, as a share of the way to the set temperature: estimate", 1.0, "");
}

/// The mould's body does not feel it, and is not asked again.
Case setting_at(Case c, double by_K) {
  if (c.mould) c.mould->build.reset();
  if (c.heat) c.heat->set_K += by_K;
  if (c.sheet.solid) c.sheet.solid->set_temperature_K += by_K;
  return c;
}

}  // namespace

std::vector<Unsure> unsure_numbers(const Case& c) {
  std::vector<Unsure> numbers{stiffness(c)};
  if (!c.stages.empty() && (c.heat || !c.sheet.polymer.empty())) {
    const double from_K = c.heat ? c.heat->start_K : c.sheet.temperature_K;
    numbers.push_back({"temperature of the sheet", celsius(from_K - kSheet_K), celsius(from_K + kSheet_K),
                       c.heat && c.heat->law
                           ? "heater and thermometer: 5 K either way, ours"
                           : "heater and thermometer: 5 K either way, ours; stiffness halves in 15 K (polystyrene)",
                       warmer(c, -kSheet_K), warmer(c, kSheet_K)});
  }
  const double gauge_m = c.sheet.thickness_m;
  const auto gauge = [&](double factor) {
    return gauge_m > 0.0 ? fmt::format("{:.3g} mm", 1e3 * gauge_m * factor)
                         : fmt::format("{:.3g} times the state's", factor);
  };
  numbers.push_back({"gauge of the sheet", gauge(1.0 - kGauge), gauge(1.0 + kGauge),
                     "10 % either way, fabricator guides (seen)", thicker(c, 1.0 - kGauge), thicker(c, 1.0 + kGauge)});
  if (c.sheet.sags && c.sheet.expansion > 0.0)
    numbers.push_back({"expansion of the hot sheet", percent(c.sheet.expansion / kExpansionSpread),
                       percent(c.sheet.expansion * kExpansionSpread),
                       fmt::format("a factor of {:g} either way, ours", kExpansionSpread),
                       expanding(c, 1.0 / kExpansionSpread), expanding(c, kExpansionSpread)});
  if (has_pressure(c))
    numbers.push_back({"pressure", "-10 %", "+10 %", "regulator and line, ours", pressed(c, 1.0 - kPressure),
                       pressed(c, 1.0 + kPressure)});
  if (c.stages.empty()) return numbers;
  if (c.mould) numbers.push_back(friction(c));
  add_heat(c, numbers);
  if (c.heat || (c.mould && c.sheet.solid)) {
    const double set_K = c.heat ? c.heat->set_K : c.sheet.solid->set_temperature_K;
    numbers.push_back({"set temperature", celsius(set_K - kSet_K), celsius(set_K + kSet_K),
                       "guideline tables, from memory: 5 K either way, ours", setting_at(c, -kSet_K),
                       setting_at(c, kSet_K), c.heat ? Anew::kAnswers : Anew::kPart});
  }
  if (c.mould && c.sheet.solid) add_solid(c, numbers);
  add_card_numbers(c, numbers);
  return numbers;
}

}  // namespace pellicle
