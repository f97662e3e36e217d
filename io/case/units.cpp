// How much is "0.75 mm"? One table of units.
#include "io/case/units.h"

#include "io/case/document.h"
#include "io/case/spelling.h"
#include "mesh/check.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <numbers>
#include <optional>

namespace pellicle::cases {
namespace {

/// SI value = (value + shift) * times / over. A division by a power of ten rounds once, so "0.75 mm" is exactly
/// 0.75e-3.
struct Unit {
  std::string_view name;
  Dimension dimension;
  double times = 1.0;
  double over = 1.0;
  double shift = 0.0;
};

using D = Dimension;
constexpr double kInch_mm = 25.4;              // exact by definition
constexpr double kPsi_Pa = 6894.757293168361;  // lbf/in^2 with g = 9.80665 m/s^2, exact to the digits
constexpr double kIceKelvin = 273.15;          // 0 °C, exact
constexpr double kFahrenheitShift = 459.67;    // 0 °F above absolute zero, exact
constexpr double kPi = std::numbers::pi;

// The customary unit of a dimension comes first; spellings in other writings follow their unit.
constexpr std::array kUnits{
    Unit{"mm", D::kLength, 1.0, 1e3},
    Unit{"cm", D::kLength, 1.0, 1e2},
    Unit{"m", D::kLength},
    Unit{"um", D::kLength, 1.0, 1e6},
    Unit{"µm", D::kLength, 1.0, 1e6},
    Unit{"μm", D::kLength, 1.0, 1e6},  // the Greek letter; above is the micro sign
    Unit{"in", D::kLength, kInch_mm, 1e3},
    Unit{"mil", D::kLength, kInch_mm, 1e6},
    Unit{"bar", D::kPressure, 1e5},
    Unit{"mbar", D::kPressure, 1e2},
    Unit{"Pa", D::kPressure},
    Unit{"kPa", D::kPressure, 1e3},
    Unit{"MPa", D::kPressure, 1e6},
    Unit{"GPa", D::kPressure, 1e9},
    Unit{"psi", D::kPressure, kPsi_Pa},
    Unit{"°C", D::kTemperature, 1.0, 1.0, kIceKelvin},
    Unit{"C", D::kTemperature, 1.0, 1.0, kIceKelvin},
    Unit{"°F", D::kTemperature, 5.0, 9.0, kFahrenheitShift},
    Unit{"F", D::kTemperature, 5.0, 9.0, kFahrenheitShift},
    Unit{"K", D::kTemperature},
    Unit{"cm^3", D::kVolume, 1.0, 1e6},
    Unit{"cm³", D::kVolume, 1.0, 1e6},
    Unit{"mm^3", D::kVolume, 1.0, 1e9},
    Unit{"mm³", D::kVolume, 1.0, 1e9},
    Unit{"m^3", D::kVolume},
    Unit{"m³", D::kVolume},
    Unit{"mL", D::kVolume, 1.0, 1e6},
    Unit{"L", D::kVolume, 1.0, 1e3},
    Unit{"g", D::kMass, 1.0, 1e3},
    Unit{"kg", D::kMass},
    Unit{"kg/m^3", D::kDensity},
    Unit{"kg/m³", D::kDensity},
    Unit{"g/cm^3", D::kDensity, 1e3},
    Unit{"g/cm³", D::kDensity, 1e3},
    Unit{"s", D::kTime},
    Unit{"ms", D::kTime, 1.0, 1e3},
    Unit{"min", D::kTime, 60.0},
    Unit{"°", D::kAngle, kPi, 180.0},
    Unit{"deg", D::kAngle, kPi, 180.0},
    Unit{"rad", D::kAngle},
    Unit{"W/(m K)", D::kConductivity},
    Unit{"J/(kg K)", D::kSpecificHeat},
    Unit{"kJ/(kg K)", D::kSpecificHeat, 1e3},
};

const Unit* find_unit(std::string_view name) {
  const auto it = std::find_if(kUnits.begin(), kUnits.end(), [&](const Unit& u) { return u.name == name; });
  return it == kUnits.end() ? nullptr : &*it;
}

const Unit& known_unit(std::string_view name) {
  const Unit* unit = find_unit(name);
  ensure(unit != nullptr, "a unit of the schema is in the table of units");
  return *unit;
}

std::string_view trimmed(std::string_view text) {
  const auto first = text.find_first_not_of(" \t");
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(" \t") - first + 1);
}

std::string wanted(Dimension dimension) {
  std::string names;
  for (const std::string& name : unit_names(dimension)) names += (names.empty() ? "" : ", ") + name;
  return fmt::format("{} in {}", dimension_name(dimension), names);
}

std::string unit_advice(std::string_view unit, Dimension dimension) {
  if (dimension == Dimension::kPressure && (unit == "barg" || unit == "bara" || unit == "psig" || unit == "psia")) {
    return "Pressures are gauge pressures: leave the letter out, and take 1.013 bar off an absolute one";
  }
  const auto near = nearest_word(unit, unit_names(dimension));
  return near ? fmt::format("Did you mean {}?", *near) : std::string();
}

/// Where the number ends: std::from_chars would take "inf" and "nan" too, so the first character decides.
struct SplitText {
  std::optional<double> number;
  bool too_large = false;
  std::string_view rest;
};

SplitText split_number(std::string_view text) {
  std::string_view digits = text;
  if (!digits.empty() && digits.front() == '+') digits.remove_prefix(1);
  const std::string_view body =
      !digits.empty() && digits.front() == '-' && digits.size() == text.size() ? digits.substr(1) : digits;
  const bool starts = !body.empty() && ((body.front() >= '0' && body.front() <= '9') || body.front() == '.');
  if (!starts) return {};
  double value = 0.0;
  const auto [end, problem] = std::from_chars(digits.data(), digits.data() + digits.size(), value);
  const std::string_view rest = digits.substr(static_cast<std::size_t>(end - digits.data()));
  if (problem == std::errc::result_out_of_range) return {std::nullopt, true, rest};
  if (problem != std::errc()) return {};
  return {value, false, rest};
}

}  // namespace

const char* dimension_name(Dimension dimension) {
  switch (dimension) {
    case Dimension::kNone:
      return "a plain number";
    case Dimension::kLength:
      return "a length";
    case Dimension::kPressure:
      return "a pressure";
    case Dimension::kTemperature:
      return "a temperature";
    case Dimension::kVolume:
      return "a volume";
    case Dimension::kMass:
      return "a mass";
    case Dimension::kDensity:
      return "a density";
    case Dimension::kTime:
      return "a time";
    case Dimension::kAngle:
      return "an angle";
    case Dimension::kConductivity:
      return "a heat conductivity";
    case Dimension::kSpecificHeat:
      return "a specific heat";
  }
  return "";
}

std::vector<std::string> unit_names(Dimension dimension) {
  std::vector<std::string> names;
  for (const Unit& unit : kUnits) {
    if (unit.dimension == dimension) names.emplace_back(unit.name);
  }
  return names;
}

std::variant<double, Refusal> parse_number(std::string_view text) {
  const std::string_view body = trimmed(text);
  const SplitText split = split_number(body);
  if (split.too_large) return Refusal{in_quotes(text), "a number a double can hold", ""};
  if (!split.number || !split.rest.empty()) return Refusal{in_quotes(text), "a finite number", ""};
  return *split.number;
}

std::variant<double, Refusal> parse_quantity(std::string_view text, Dimension dimension) {
  const std::string_view body = trimmed(text);
  const SplitText split = split_number(body);
  if (split.too_large) return Refusal{in_quotes(text), "a number a double can hold", ""};
  if (!split.number) {
    return Refusal{in_quotes(text), wanted(dimension), "Write a finite number, a blank and the unit"};
  }
  const std::string_view unit_text = trimmed(split.rest);
  if (unit_text.empty()) {
    return Refusal{fmt::format("{} without a unit", in_quotes(text)), wanted(dimension),
                   "Add the unit after the number"};
  }
  if (unit_text.front() == ',') {
    return Refusal{in_quotes(text), wanted(dimension), "Write the decimal point as '.', not as a comma"};
  }
  const Unit* unit = find_unit(unit_text);
  if (unit == nullptr) {
    return Refusal{fmt::format("{} with the unknown unit {}", in_quotes(text), in_quotes(unit_text)), wanted(dimension),
                   unit_advice(unit_text, dimension)};
  }
  if (unit->dimension != dimension) {
    return Refusal{fmt::format("{}, but {} is {}", in_quotes(text), unit_text, dimension_name(unit->dimension)),
                   wanted(dimension), ""};
  }
  const double value_SI = to_SI(*split.number, unit_text);
  if (!std::isfinite(value_SI)) return Refusal{in_quotes(text), "a number a double can hold", ""};
  return value_SI;
}

double to_SI(double value, std::string_view unit) {
  if (unit.empty()) return value;
  const Unit& u = known_unit(unit);
  return (value + u.shift) * u.times / u.over;
}

double from_SI(double value_SI, std::string_view unit) {
  if (unit.empty()) return value_SI;
  const Unit& u = known_unit(unit);
  return value_SI * u.over / u.times - u.shift;
}

std::string format_in(double value_SI, std::string_view unit) {
  const double value = from_SI(value_SI, unit);
  const double shown = value == 0.0 ? 0.0 : value;  // no "-0"
  if (unit.empty()) return fmt::format("{:.6g}", shown);
  return fmt::format("{:.6g}{}{}", shown, unit == "°" ? "" : " ", unit);
}

std::string format_fitting(double value_SI, Dimension dimension) {
  const double size = std::fabs(value_SI);
  switch (dimension) {
    case Dimension::kNone:
      return format_in(value_SI, "");
    case Dimension::kLength:
      return format_in(value_SI, size == 0.0 || size >= 0.0999e-3 ? "mm" : "um");
    case Dimension::kPressure: {
      if (size > 0.0 && size < 1e3) return format_in(value_SI, "Pa");
      return format_in(value_SI, size < 1e4 && size > 0.0 ? "kPa" : size < 1e7 ? "bar" : "MPa");
    }
    case Dimension::kTemperature:
      return format_in(value_SI, "°C");
    case Dimension::kVolume:
      return format_in(value_SI, size < 1e-3 ? "cm^3" : "L");
    case Dimension::kMass:
      return format_in(value_SI, size < 1.0 ? "g" : "kg");
    case Dimension::kDensity:
      return format_in(value_SI, "kg/m^3");
    case Dimension::kTime:
      return format_in(value_SI, size > 0.0 && size < 1e-2 ? "ms" : "s");
    case Dimension::kAngle:
      return format_in(value_SI, "°");
    case Dimension::kConductivity:
      return format_in(value_SI, "W/(m K)");
    case Dimension::kSpecificHeat:
      return format_in(value_SI, "kJ/(kg K)");
  }
  return "";
}

}  // namespace pellicle::cases
