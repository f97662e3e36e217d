// Is a case one step on the case a person would have written? Held against the parser's reading of that text.
#include "solver/what_if.h"

#include "io/case/parse.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <string>

namespace pellicle {
namespace {

std::string text_of(const std::string& thickness, const std::string& temperature, const std::string& friction,
                    const std::string& mould_temperature) {
  return "[sheet]\npolymer = \"petg\"\nthickness = \"" + thickness +
         "\"\noutline = { disc = \"100 mm\" }\nheight = \"25 mm\"\ntemperature = \"" + temperature +
         "\"\nelement = \"3 mm\"\n[mould]\nsurface = \"m.stl\"\nunit = \"mm\"\nresin = \"high-temperature\"\nfriction "
         "= " +
         friction + "\n" + mould_temperature +
         "[[forming.stage]]\nname = \"press\"\nduration = \"0.5 s\"\npressure = \"4 bar\"\n";
}
Case case_of(const std::string& text) { return cases::parse_again(text, "case.toml", "x").value; }
constexpr const char* kWarm = "temperature = \"30 °C\"\n";

const WhatIf* find(const WhatIfs& all, const std::string& name) {
  const auto at = std::find_if(all.steps.begin(), all.steps.end(), [&](const WhatIf& w) { return w.name == name; });
  return at == all.steps.end() ? nullptr : &*at;
}

double modulus_Pa(const Case& c) { return sheet::small_strain_shear_modulus_Pa(c.sheet.law); }

TEST(WhatIf, AWarmerSheetIsWhatTheParserMakesOfIt) {
  const WhatIfs all = what_ifs(case_of(text_of("0.75 mm", "140 °C", "\"stick\"", kWarm)));
  const WhatIf* warmer = find(all, "temperature");
  ASSERT_NE(warmer, nullptr);
  const Case written = case_of(text_of("0.75 mm", "145 °C", "\"stick\"", kWarm));
  EXPECT_DOUBLE_EQ(warmer->changed.sheet.temperature_K, written.sheet.temperature_K);
  ASSERT_TRUE(written.heat && warmer->changed.heat);
  EXPECT_DOUBLE_EQ(warmer->changed.heat->start_K, written.heat->start_K);
  EXPECT_NEAR(modulus_Pa(warmer->changed) / modulus_Pa(written), 1.0, 1e-12) << "two orders of the same factors";
  EXPECT_LT(modulus_Pa(written), 0.95 * modulus_Pa(case_of(text_of("0.75 mm", "140 °C", "\"stick\"", kWarm))))
      << "five degrees do something";
  EXPECT_NEAR(warmer->changed.sheet.shear_modulus_Pa->high / written.sheet.shear_modulus_Pa->high, 1.0, 1e-12);
  EXPECT_DOUBLE_EQ(warmer->value(-2.0), 130.0);
}

TEST(WhatIf, AWarmerSheetIsWarmerByItsMapToo) {
  const WhatIfs all = what_ifs(case_of(text_of("0.75 mm", "140 °C", "\"stick\"", kWarm)));
  ASSERT_NE(find(all, "temperature"), nullptr);
  EXPECT_DOUBLE_EQ(find(all, "temperature")->changed.heat->heater.map_shift_K, 5.0);
}

TEST(WhatIf, AnotherGaugeChangesTheGaugeAlone) {
  const Case c = case_of(text_of("0.8 mm", "140 °C", "\"stick\"", ""));
  const WhatIfs all = what_ifs(c);
  const WhatIf* thicker = find(all, "gauge");
  ASSERT_NE(thicker, nullptr);
  EXPECT_DOUBLE_EQ(thicker->changed.sheet.thickness_m, 0.84e-3);
  EXPECT_DOUBLE_EQ(modulus_Pa(thicker->changed), modulus_Pa(c));
  EXPECT_NEAR(thicker->value(thicker->most_steps), 0.88, 1e-12) << "10 % of the gauge";
}

TEST(WhatIf, AStifferSheetIsStifferWithItsMemory) {
  const Case c = case_of(text_of("0.8 mm", "140 °C", "\"stick\"", kWarm));
  const WhatIfs all = what_ifs(c);
  const WhatIf* stiffer = find(all, "stiffness");
  ASSERT_NE(stiffer, nullptr);
  EXPECT_NEAR(modulus_Pa(stiffer->changed) / modulus_Pa(c), 1.25, 1e-12);
  const auto after_Pa = [](const Case& one) {
    return sheet::modulus_after_Pa(*one.heat->law, one.heat->start_K, sheet::kFormingTime_s);
  };
  // The glass stays as it is; at 140 °C a second after the stretch nothing of it is left.
  EXPECT_NEAR(after_Pa(stiffer->changed) / after_Pa(c), 1.25, 1e-6);
}

TEST(WhatIf, EveryLawIsScaledWhole) {
  Case c = case_of(text_of("0.8 mm", "140 °C", "\"stick\"", ""));
  const sheet::Stretch stretched{3.1, 2.2};
  const auto energy = [&](const Case& one) {
    return std::visit([&](const auto& law) { return law.energy_Pa(stretched); }, one.sheet.law);
  };
  int laws = 0;
  for (const sheet::Polymer& law :
       {sheet::Polymer(sheet::NeoHookean{3e5}), sheet::Polymer(sheet::MooneyRivlin{1e5, 2e4}),
        sheet::Polymer(sheet::Yeoh{1e5, -2e3, 70.0}), sheet::Polymer(sheet::Ogden{2, {1e5, 2e3}, {1.3, 5.0}})}) {
    c.sheet.law = law;
    const WhatIfs all = what_ifs(c);
    EXPECT_NEAR(energy(find(all, "stiffness")->changed) / energy(c), 1.25, 1e-12);
    ++laws;
  }
  EXPECT_EQ(laws, 4);
}

TEST(WhatIf, FrictionGoesOnFromWhatItIs) {
  const WhatIfs slides = what_ifs(case_of(text_of("0.8 mm", "140 °C", "0.2", "")));
  ASSERT_NE(find(slides, "friction"), nullptr);
  EXPECT_DOUBLE_EQ(find(slides, "friction")->changed.mould->friction.coefficient, 0.3);
  const WhatIfs sticks = what_ifs(case_of(text_of("0.8 mm", "140 °C", "\"stick\"", "")));
  EXPECT_FALSE(find(sticks, "friction")->changed.mould->friction.stick);
  EXPECT_TRUE(std::isnan(find(sticks, "friction")->now));
}

TEST(WhatIf, WhatCannotBeAskedIsToldWithItsReason) {
  Case c = case_of(text_of("0.8 mm", "140 °C", "\"stick\"", ""));
  WhatIfs all = what_ifs(c);
  EXPECT_EQ(find(all, "temperature"), nullptr) << "heat is not followed";
  ASSERT_EQ(all.left_out.size(), 1U);
  EXPECT_NE(all.left_out[0].find("mould.temperature"), std::string::npos);
  c.mould.reset();
  all = what_ifs(c);
  EXPECT_EQ(find(all, "friction"), nullptr);
  EXPECT_EQ(all.left_out.size(), 2U);
}

}  // namespace
}  // namespace pellicle
