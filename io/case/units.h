// How much is "0.75 mm"? Texts with a unit to SI values and back, with the dimension checked.
#pragma once

#include <string>
#include <string_view>
#include <variant>
#include <vector>

namespace pellicle::cases {

enum class Dimension {
  kNone,
  kLength,
  kPressure,
  kTemperature,
  kVolume,
  kMass,
  kDensity,
  kTime,
  kAngle,
  kConductivity,  ///< this and the next in cards only
  kSpecificHeat
};

/// "a length", "a pressure", ...
const char* dimension_name(Dimension dimension);
/// Names of the units a dimension may be written in, the customary one first.
std::vector<std::string> unit_names(Dimension dimension);

/// Why a text is not the quantity wanted, in the words of an Error.
struct Refusal {
  std::string found;
  std::string allowed;
  std::string advice;
};

/// Number without a unit. Locale-independent; NaN, infinity and what does not fit a double are refused.
std::variant<double, Refusal> parse_number(std::string_view text);

/// Number and unit, blank between optional, to SI (K for temperatures; gauge stays gauge for pressures).
std::variant<double, Refusal> parse_quantity(std::string_view text, Dimension dimension);

/// A value given in `unit` in SI, and back. The unit must exist.
double to_SI(double value, std::string_view unit);
double from_SI(double value_SI, std::string_view unit);

/// "0.75 mm": six significant digits in the unit given.
std::string format_in(double value_SI, std::string_view unit);
/// The same in the unit of the dimension that fits the size: 5e-6 m is "5 um", 3e5 Pa is "3 bar", 1e9 Pa is "1000 MPa".
std::string format_fitting(double value_SI, Dimension dimension);

}  // namespace pellicle::cases
