// Every card in the program is whole and every number carries a mark and a source.
#include "io/case/cards.h"

#include "mesh/check.h"

#include <gtest/gtest.h>

#include <cmath>
#include <set>

namespace pellicle::cases {
namespace {

TEST(Cards, PolymersAreWholeAndSane) {
  std::set<std::string> names;
  for (const PolymerCard& card : known_polymers()) {
    names.insert(card.name);
    EXPECT_FALSE(card.title.empty());
    for (const CardNumber* n : {&card.shear_modulus, &card.density, &card.forming_temperature, &card.set_temperature}) {
      EXPECT_FALSE(n->source.empty()) << card.name << ' ' << n->name;
      EXPECT_FALSE(n->mark.empty()) << card.name << ' ' << n->name;
    }
    EXPECT_GT(card.shear_modulus.value.low, 1e4) << card.name;  // hot and rubbery, not glassy
    EXPECT_LT(card.shear_modulus.value.high, 5e6) << card.name;
    EXPECT_LT(card.shear_modulus.value.low, card.shear_modulus.value.high) << "an estimate has a band";
    EXPECT_EQ(card.shear_modulus.mark, "estimate") << card.name;
    EXPECT_NEAR(card.density.value.likely, 1150, 150) << card.name;
    ASSERT_TRUE(card.stretch_limit) << card.name;
    EXPECT_EQ(card.stretch_limit->mark, "estimate") << card.name;
    EXPECT_GT(card.stretch_limit->value.low, 1.0) << card.name;
    ASSERT_TRUE(card.conductivity && card.specific_heat) << card.name;
    EXPECT_NEAR(card.conductivity->value.likely, 0.2, 0.05) << card.name;       // W/mK of unfilled plastics
    EXPECT_NEAR(card.specific_heat->value.likely, 1900.0, 250.0) << card.name;  // J/kgK, hot
    EXPECT_LT(card.specific_heat->value.low, 1600.0) << "at room temperature: " << card.name;
    EXPECT_LT(card.set_temperature.value.likely, card.forming_temperature.value.low) << card.name;
    EXPECT_GE(card.modulus_temperature_K, card.forming_temperature.value.low) << card.name;
    EXPECT_LE(card.modulus_temperature_K, card.forming_temperature.value.high) << card.name;
  }
  EXPECT_EQ(names, (std::set<std::string>{"hips", "petg", "abs", "pc", "pmma"}));
}

TEST(Cards, ResinsAreWholeAndSane) {
  std::set<std::string> names;
  for (const ResinCard& card : known_resins()) {
    names.insert(card.name);
    ASSERT_EQ(card.numbers.size(), 7U) << card.name;
    EXPECT_GT(card.numbers[0].value.likely, card.numbers[1].value.likely) << "less stress, hotter: " << card.name;
    // Effusivity sqrt(k rho cp): 575 to 780 W s^0.5/m2K for unfilled resin, worked out by hand for k = 0.2 and 0.366.
    const double effusivity =
        std::sqrt(card.numbers[4].value.likely * card.numbers[5].value.likely * card.numbers[6].value.likely);
    EXPECT_GT(effusivity, 570.0) << card.name;
    EXPECT_LT(effusivity, card.name == "rigid" ? 1000.0 : 790.0) << card.name;
    for (const CardNumber& n : card.numbers) EXPECT_FALSE(n.source.empty() || n.mark.empty()) << card.name;
  }
  EXPECT_EQ(names, (std::set<std::string>{"standard", "tough", "high-temperature", "rigid"}));
}

TEST(Cards, MistakesInACardAreTold) {
  const std::string good = R"card([x]
title = "x"
[x.shear_modulus]
likely = "1 MPa"
at = "150 °C"
mark = "estimate"
source = "s"
[x.density]
likely = "1000 kg/m^3"
mark = "seen"
source = "s"
[x.forming_temperature]
likely = "150 °C"
mark = "seen"
source = "s"
[x.set_temperature]
likely = "80 °C"
mark = "seen"
source = "s"
[x.conductivity]
likely = "0.2 W/(m K)"
mark = "seen"
source = "s"
)card";
  ASSERT_EQ(read_polymer_cards(good, "cards.toml").size(), 1U);
  struct Slip {
    const char* from;
    const char* to;
  };
  int told = 0;
  for (const Slip slip : {Slip{"likely = \"1 MPa\"", "likely = \"1 mm\""},
                          {"likely = \"1 MPa\"", "likely = 1"},
                          {"mark = \"estimate\"", "mark = \"sure\""},
                          {"source = \"s\"", ""},
                          {"at = \"150 °C\"", ""},
                          {"mark = \"seen\"", "markk = \"seen\""},
                          {"likely = \"1 MPa\"", "likely = \"1 MPa\"\nlow = \"2 MPa\""},
                          {"0.2 W/(m K)", "0 W/(m K)"},
                          {"0.2 W/(m K)", "0.2 J/(kg K)"},
                          {"title = \"x\"", ""}}) {
    std::string text = good;
    text.replace(text.find(slip.from), std::string(slip.from).size(), slip.to);
    EXPECT_THROW(read_polymer_cards(text, "cards.toml"), Error) << slip.to;
    ++told;
  }
  EXPECT_EQ(told, 10);
}

}  // namespace
}  // namespace pellicle::cases
