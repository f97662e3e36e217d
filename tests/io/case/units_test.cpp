// Texts with a unit become SI and back; what is no quantity is told in words a person can use.
#include "io/case/units.h"

#include <gtest/gtest.h>

#include <cmath>
#include <string>
#include <variant>

namespace pellicle::cases {
namespace {

double value_of(const char* text, Dimension dimension) {
  const auto reading = parse_quantity(text, dimension);
  if (const auto* refusal = std::get_if<Refusal>(&reading)) {
    ADD_FAILURE() << text << ": " << refusal->found << "; " << refusal->allowed;
    return std::nan("");
  }
  return std::get<double>(reading);
}

Refusal refusal_of(const std::string& text, Dimension dimension) {
  const auto reading = parse_quantity(text, dimension);
  if (const auto* value = std::get_if<double>(&reading)) {
    ADD_FAILURE() << text << " was read as " << *value;
    return {};
  }
  return std::get<Refusal>(reading);
}

TEST(Units, EveryUnitIsReadInSI) {
  struct Row {
    const char* text;
    Dimension dimension;
    double value_SI;
  };
  const Row rows[] = {
      {"0.75 mm", Dimension::kLength, 0.75e-3},
      {"2 cm", Dimension::kLength, 0.02},
      {"1 m", Dimension::kLength, 1.0},
      {"5 um", Dimension::kLength, 5e-6},
      {"5 µm", Dimension::kLength, 5e-6},
      {"1 in", Dimension::kLength, 0.0254},
      {"30 mil", Dimension::kLength, 0.762e-3},
      {"4 bar", Dimension::kPressure, 4e5},
      {"100 mbar", Dimension::kPressure, 1e4},
      {"5 Pa", Dimension::kPressure, 5.0},
      {"5 kPa", Dimension::kPressure, 5e3},
      {"0.3 MPa", Dimension::kPressure, 0.3e6},
      {"2 GPa", Dimension::kPressure, 2e9},
      {"1 psi", Dimension::kPressure, 6894.757293168361},
      {"140 °C", Dimension::kTemperature, 413.15},
      {"140 C", Dimension::kTemperature, 413.15},
      {"32 °F", Dimension::kTemperature, 273.15},
      {"212 F", Dimension::kTemperature, 373.15},
      {"300 K", Dimension::kTemperature, 300.0},
      {"60 cm^3", Dimension::kVolume, 60e-6},
      {"60 cm³", Dimension::kVolume, 60e-6},
      {"7 mm^3", Dimension::kVolume, 7e-9},
      {"1 m^3", Dimension::kVolume, 1.0},
      {"60 mL", Dimension::kVolume, 60e-6},
      {"0.3 L", Dimension::kVolume, 0.3e-3},
      {"3 g", Dimension::kMass, 3e-3},
      {"2 kg", Dimension::kMass, 2.0},
      {"1250 kg/m^3", Dimension::kDensity, 1250.0},
      {"1.25 g/cm^3", Dimension::kDensity, 1250.0},
      {"0.5 s", Dimension::kTime, 0.5},
      {"20 ms", Dimension::kTime, 0.02},
      {"2 min", Dimension::kTime, 120.0},
      {"90°", Dimension::kAngle, std::acos(0.0)},
      {"180 deg", Dimension::kAngle, std::acos(-1.0)},
      {"1.5 rad", Dimension::kAngle, 1.5},
  };
  int checked = 0;
  for (const Row& row : rows) {
    EXPECT_NEAR(value_of(row.text, row.dimension), row.value_SI, 1e-14 * row.value_SI) << row.text;  // round-off
    ++checked;
  }
  EXPECT_EQ(checked, 35);
}

TEST(Units, DecimalTextsGiveTheNearestDouble) {
  EXPECT_EQ(value_of("0.75 mm", Dimension::kLength), 0.75e-3);
  EXPECT_EQ(value_of("0.05 mm", Dimension::kLength), 0.05e-3);
}

TEST(Units, BlanksAndSignsAreFree) {
  EXPECT_EQ(value_of("0.75mm", Dimension::kLength), 0.75e-3);
  EXPECT_EQ(value_of("  +1  mm ", Dimension::kLength), 1e-3);
  EXPECT_EQ(value_of("-0.9 bar", Dimension::kPressure), -0.9e5);
  EXPECT_EQ(value_of("1e-3 m", Dimension::kLength), 1e-3);
  EXPECT_EQ(value_of(".5 m", Dimension::kLength), 0.5);
}

TEST(Units, APressureGivenInMillimetresIsToldSo) {
  const Refusal refusal = refusal_of("4 mm", Dimension::kPressure);
  EXPECT_NE(refusal.found.find("mm is a length"), std::string::npos) << refusal.found;
  EXPECT_NE(refusal.allowed.find("a pressure in bar"), std::string::npos) << refusal.allowed;
  EXPECT_NE(refusal.allowed.find("psi"), std::string::npos) << refusal.allowed;
}

TEST(Units, WhatIsNoQuantityIsRefused) {
  int refused = 0;
  for (const char* text : {"", " ", "mm", "nan mm", "inf mm", "-inf mm", "NaN mm", "1e999 mm", "1 mm mm", "1 2 mm",
                           "0,75 mm", "0x10 mm", "+-1 mm", "--1 mm", "- 1 mm", "1", "1 MM", "1 parsec", "e5 mm"}) {
    EXPECT_FALSE(refusal_of(text, Dimension::kLength).found.empty()) << text;
    ++refused;
  }
  EXPECT_EQ(refused, 19);
}

TEST(Units, AdviceNamesTheNearUnit) {
  EXPECT_NE(refusal_of("1 Mpa", Dimension::kPressure).advice.find("MPa"), std::string::npos);
  EXPECT_NE(refusal_of("4 barg", Dimension::kPressure).advice.find("gauge"), std::string::npos);
  EXPECT_NE(refusal_of("0,75 mm", Dimension::kLength).advice.find("decimal point"), std::string::npos);
}

TEST(Units, PlainNumbers) {
  EXPECT_EQ(std::get<double>(parse_number("0.5")), 0.5);
  EXPECT_TRUE(std::holds_alternative<Refusal>(parse_number("nan")));
  EXPECT_TRUE(std::holds_alternative<Refusal>(parse_number("1 mm")));
}

TEST(Units, FormatsInTheUnitThatFits) {
  EXPECT_EQ(format_in(0.75e-3, "mm"), "0.75 mm");
  EXPECT_EQ(format_in(413.15, "°C"), "140 °C");
  EXPECT_EQ(format_in(-0.0, "mm"), "0 mm");
  EXPECT_EQ(format_in(std::acos(0.0), "°"), "90°");
  EXPECT_EQ(format_fitting(5e-6, Dimension::kLength), "5 um");
  EXPECT_EQ(format_fitting(0.2e-3, Dimension::kLength), "0.2 mm");
  EXPECT_EQ(format_fitting(3e5, Dimension::kPressure), "3 bar");
  EXPECT_EQ(format_fitting(2e9, Dimension::kPressure), "2000 MPa");
  EXPECT_EQ(format_fitting(4.5e3, Dimension::kPressure), "4.5 kPa");
  EXPECT_EQ(format_fitting(60e-6, Dimension::kVolume), "60 cm^3");
  EXPECT_EQ(format_fitting(2e-3, Dimension::kTime), "2 ms");
}

}  // namespace
}  // namespace pellicle::cases
