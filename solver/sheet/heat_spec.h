// What is known of the heat of a case: sheet, mould, gas, and how well heat passes between them?
#pragma once

#include "solver/sheet/heat.h"
#include "solver/sheet/relaxation.h"
#include "solver/sheet/sheet_spec.h"

#include <optional>

namespace pellicle {

/// What the heater left, where it is not one temperature all through.
struct HeaterSpec {
  double face_difference_K = 0.0;            ///< mould side less free side; linear between, the mean stays
  std::optional<sheet::TemperatureMap> map;  ///< mean through the thickness by place; none: start_K everywhere
  double cold_rim_m = 0.0;                   ///< from the clamp inwards it rises from clamp_K to what it is inside
  double clamp_K = 0.0;                      ///< read with a cold rim
  double map_shift_K = 0.0;                  ///< added to the map: the same heater, hotter or colder all over
};

/// What the free side of the part meets after the last stage, until it is taken off.
enum class Cooling {
  kGas,  ///< the gas of the stages stays on
  kAir,  ///< the box opens to still air
  kFan   ///< ... and a fan blows on it
};

/// What belongs to the bench, with its band (docs/theory/heat.md, "Numbers"; estimates from memory) [W/m2K].
inline constexpr Estimate kContact_W_m2K{1000.0, 500.0, 3000.0};  ///< hot sheet pressed on a mould
inline constexpr Estimate kStillFilm_W_m2K{10.0, 5.0, 15.0};      ///< still air beside the sheet, radiation counted
inline constexpr Estimate kGasFilm_W_m2K{60.0, 20.0, 150.0};      ///< gas of the stages on the free side
inline constexpr Estimate kFanFilm_W_m2K{60.0, 20.0, 150.0};      ///< a fan on the free side

/// Plain checked values in SI. What belongs to the bench has the likely value of docs/theory/heat.md as its default.
struct HeatSpec {
  sheet::HeatMaterial polymer;
  double start_K;        ///< sheet as it leaves the heater, all through; with a map what stands for all of it
  double delay_s = 0.0;  ///< from the heater until the first stage begins
  double mould_K;        ///< before it meets the sheet; the platform likewise
  double mould_effusivity_Ws05_m2K;
  double contact_W_m2K = kContact_W_m2K.likely;
  double still_film_W_m2K = kStillFilm_W_m2K.likely;  ///< mould side while open, both sides in the delay
  double gas_film_W_m2K = kGasFilm_W_m2K.likely;      ///< free side from the first stage on
  double gas_K = 293.15;
  double fan_film_W_m2K = kFanFilm_W_m2K.likely;  ///< free side under a fan
  Cooling cooling = Cooling::kGas;
  int cells = 12;
  double set_K;                           ///< below it the part keeps its shape
  double draws_from_K = 0.0;              ///< lower end of the forming window; 0: not known
  HeaterSpec heater = {};                 ///< nothing: start_K everywhere
  std::optional<sheet::HotLaw> law = {};  ///< what temperature and time make of the stiffness; none: not known
  // What the temperatures change; the last two read with a law, the first two with a neo-hookean sheet only.
  bool temperature_to_modulus = true;  ///< stiffness and relaxation of the sheet as it forms
  bool skin_to_tension = true;         ///< ... layer by layer; false: all layers at the mean through the thickness
  bool skin_to_relief = true;          ///< reliefs and layer lines meet a chilled skin

  sheet::HeatFilm open_side() const { return {still_film_W_m2K, gas_K}; }
  sheet::HeatFilm free_side() const { return {gas_film_W_m2K, gas_K}; }
  /// Free side after the last stage.
  sheet::HeatFilm free_side_after() const {
    return {cooling == Cooling::kGas   ? gas_film_W_m2K
            : cooling == Cooling::kAir ? still_film_W_m2K
                                       : fan_film_W_m2K,
            gas_K};
  }
};

}  // namespace pellicle
