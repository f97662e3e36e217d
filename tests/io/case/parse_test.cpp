// A case file becomes a Case: values, defaults and origins; and every rule that ties two keys together is held.
#include "io/case/parse.h"

#include "mesh/check.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <clocale>
#include <filesystem>
#include <fstream>
#include <string>

namespace pellicle::cases {
namespace {

namespace fs = std::filesystem;

constexpr const char* kGood = R"(title = "Basil marker"
[sheet]
polymer = "petg"
thickness = "0.75 mm"
outline = { disc = "100 mm" }
height = "25 mm"
temperature = "140 °C"
element = "1.5 mm"
[mould]
surface = "marker.stl"
unit = "mm"
[[forming.stage]]
name = "press"
duration = "0.5 s"
pressure = "4 bar"
)";

/// A folder of its own for each test; removed afterwards.
class ParseCase : public testing::Test {
 protected:
  void SetUp() override {
    const testing::TestInfo& info = *testing::UnitTest::GetInstance()->current_test_info();
    folder_ = fs::path(testing::TempDir()) / (std::string("pellicle_parse_") + info.name());
    fs::remove_all(folder_);
    fs::create_directories(folder_);
    write("marker.stl", "solid x\nendsolid x\n");  // must exist; is not read here
  }
  void TearDown() override { fs::remove_all(folder_); }

  void write(const std::string& name, const std::string& text) const {
    std::ofstream(folder_ / name, std::ios::binary) << text;
  }
  ParsedCase parse(const std::string& text, Purpose purpose = Purpose::kForming) const {
    write("case.toml", text);
    return parse_case(folder_, purpose);
  }
  /// The fault of a case that must be refused.
  Fault fault_of(const std::string& text, Purpose purpose = Purpose::kForming) const {
    try {
      parse(text, purpose);
    } catch (const Error& error) {
      return error.fault();
    }
    ADD_FAILURE() << "was taken:\n" << text;
    return {};
  }
  /// The good case with one part replaced.
  static std::string with(const std::string& from, const std::string& to) {
    std::string text = kGood;
    const auto at = text.find(from);
    EXPECT_NE(at, std::string::npos) << from;
    return text.replace(at, from.size(), to);
  }
  static std::string plus(const std::string& more) { return std::string(kGood) + more; }

  fs::path folder_;
};

const ResolvedValue& resolved(const ParsedCase& parsed, const std::string& key) {
  const auto it = std::find_if(parsed.values.begin(), parsed.values.end(), [&](const auto& v) { return v.key == key; });
  if (it == parsed.values.end()) throw std::runtime_error("no value " + key);
  return *it;
}

TEST_F(ParseCase, ReadsTheGoodCase) {
  const ParsedCase parsed = parse(kGood);
  const Case& c = parsed.value;
  EXPECT_EQ(c.title, "Basil marker");
  EXPECT_EQ(c.sheet.polymer, "petg");
  EXPECT_EQ(c.sheet.thickness_m, 0.75e-3);
  EXPECT_EQ(std::get<mesh::Disc>(c.sheet.outline.shape).diameter_m, 0.1);
  EXPECT_EQ(c.sheet.height_m, 0.025);
  EXPECT_EQ(c.sheet.element_m, 1.5e-3);
  EXPECT_EQ(c.sheet.rim_element_m, c.sheet.element_m);
  EXPECT_EQ(c.sheet.density_kg_m3, 1270);
  EXPECT_NEAR(c.sheet.temperature_K, 413.15, 1e-9);
  EXPECT_EQ(std::get<sheet::NeoHookean>(c.sheet.law).shear_modulus_Pa, 0.45e6);
  ASSERT_TRUE(c.sheet.stretch_limit);
  ASSERT_TRUE(c.mould);
  EXPECT_TRUE(c.mould->platform);
  EXPECT_TRUE(c.mould->friction.stick);
  ASSERT_EQ(c.stages.size(), 1U);
  EXPECT_EQ(std::get<PressureDrive>(c.stages[0].drive).pressure_Pa, 4e5);
  EXPECT_TRUE(std::holds_alternative<MouldTrim>(c.trim));
  EXPECT_EQ(c.numerics.frames, 20);
  ASSERT_TRUE(parsed.mould);
  EXPECT_EQ(parsed.mould->path, (folder_ / "marker.stl").lexically_normal());
  EXPECT_EQ(parsed.mould->unit_m, 1e-3);
  EXPECT_EQ(parsed.text, kGood);
  EXPECT_EQ(parsed.result_stem, folder_.filename().string());
  EXPECT_TRUE(parsed.warnings.empty());
}

TEST_F(ParseCase, EveryValueKnowsItsOrigin) {
  const ParsedCase parsed = parse(kGood);
  EXPECT_EQ(resolved(parsed, "sheet.thickness").origin, Origin::kCase);
  EXPECT_EQ(resolved(parsed, "sheet.thickness").line, 4);
  EXPECT_EQ(resolved(parsed, "sheet.thickness").value, "0.75 mm");
  EXPECT_EQ(resolved(parsed, "sheet.density").origin, Origin::kCard);
  EXPECT_NE(resolved(parsed, "sheet.density").note.find("from memory"), std::string::npos);
  EXPECT_NE(resolved(parsed, "sheet.law.shear_modulus").note.find("estimate"), std::string::npos);
  EXPECT_EQ(resolved(parsed, "numerics.frames").origin, Origin::kDefault);
  EXPECT_EQ(resolved(parsed, "forming.stage[1].pressure").value, "4 bar");
  ASSERT_EQ(parsed.not_used_yet.size(), 1U);
  EXPECT_EQ(parsed.not_used_yet[0].key, "sheet.temperature");
}

TEST_F(ParseCase, DescribingKeysAreListedAndSwitchedOffRoomsAreTaken) {
  const ParsedCase parsed = parse(with("unit = \"mm\"\n",
                                       "unit = \"mm\"\nresin = \"tough\"\nwall = \"5 mm\"\n"
                                       "fill = \"none\"\nvents = []\n"));
  EXPECT_TRUE(parsed.not_used_yet.empty()) << "wall and resin are asked whether they bear it, and the sheet warms them";
  const ParsedCase alone = parse(with("unit = \"mm\"\n", "unit = \"mm\"\nwall = \"5 mm\"\n"));
  EXPECT_FALSE(alone.value.mould->build);
  ASSERT_EQ(alone.not_used_yet.size(), 2U);
  EXPECT_EQ(alone.not_used_yet.back().key, "mould.wall");
}

TEST_F(ParseCase, ThePrintedMouldsBody) {
  const auto mould = [&](const std::string& lines) { return with("unit = \"mm\"\n", "unit = \"mm\"\n" + lines); };
  EXPECT_FALSE(parse(kGood).value.mould->build);
  const ParsedCase hollow = parse(mould("resin = \"standard\"\nwall = \"2 mm\"\n"));
  ASSERT_TRUE(hollow.value.mould->build);
  const MouldBuild& build = *hollow.value.mould->build;
  EXPECT_DOUBLE_EQ(build.wall_m, 2e-3);
  EXPECT_EQ(build.inside, mesh::Inside::kHollow);
  EXPECT_TRUE(build.base_open);
  EXPECT_DOUBLE_EQ(build.start_K, 293.15);
  EXPECT_DOUBLE_EQ(build.hold_s, 30.0);
  EXPECT_DOUBLE_EQ(build.open_s, 60.0);
  EXPECT_EQ(build.parts, 50);
  EXPECT_EQ(build.resin.strength_Pa.likely, 95e6);
  EXPECT_NEAR(build.resin.deflects_at_180_K.low, 273.15 + 50.0, 1e-9);
  ASSERT_TRUE(build.polymer);
  EXPECT_NEAR(build.polymer->specific_heat_J_kgK, 1800.0, 1e-9);
  const ParsedCase filled =
      parse(mould("resin = \"rigid\"\nwall = \"2 mm\"\nfill = \"plaster\"\nbase = \"closed\"\n"
                  "temperature = \"40 °C\"\ncycle = { hold = \"12 s\", open = \"2 min\", parts = 200 }\n"));
  ASSERT_TRUE(filled.value.mould->build);
  EXPECT_EQ(filled.value.mould->build->inside, mesh::Inside::kFilled);
  EXPECT_FALSE(filled.value.mould->build->base_open);
  EXPECT_NEAR(filled.value.mould->build->start_K, 313.15, 1e-9);
  EXPECT_DOUBLE_EQ(filled.value.mould->build->hold_s, 12.0);
  EXPECT_DOUBLE_EQ(filled.value.mould->build->open_s, 120.0);
  EXPECT_EQ(filled.value.mould->build->parts, 200);
  EXPECT_EQ(parse(mould("resin = \"tough\"\nfill = \"solid\"\n")).value.mould->build->inside, mesh::Inside::kSolid);
  for (const char* lines : {"fill = \"solid\"\n", "fill = \"plaster\"\nresin = \"tough\"\n"}) {
    const Fault fault = fault_of(mould(lines));
    EXPECT_NE(fault.where.find("mould.fill"), std::string::npos) << fault.where;
    EXPECT_NE(fault.found.find("but no mould."), std::string::npos) << fault.found;
  }
}

TEST_F(ParseCase, VentsAreReadAndAirIsFollowedUnlessSwitchedOff) {
  const ParsedCase parsed =
      parse(with("unit = \"mm\"\n",
                 "unit = \"mm\"\nvents = [{ at = [\"12 mm\", \"3 mm\"], diameter = \"0.4 mm\" }, { at = [\"0 "
                 "mm\", \"-1 mm\"], diameter = \"0.5 mm\", land = \"3 mm\", below = \"2 mm\" }]\n"));
  ASSERT_TRUE(parsed.value.mould && parsed.value.mould->vents.size() == 2U);
  const PlacedVent &plain = parsed.value.mould->vents[0], &wide = parsed.value.mould->vents[1];
  EXPECT_EQ(plain.at_m, mesh::Vec2(12e-3, 3e-3));
  EXPECT_EQ(plain.hole.diameter_m, 0.4e-3);
  EXPECT_EQ(plain.hole.land_m, 2e-3);
  EXPECT_EQ(plain.hole.foot_m, 0.0);
  EXPECT_EQ(wide.hole.land_m, 3e-3);
  EXPECT_EQ(wide.hole.foot_m, 2e-3);
  EXPECT_TRUE(parsed.value.numerics.trapped_air);
  EXPECT_FALSE(parse(std::string(kGood) + "[numerics]\ntrapped_air = false\n").value.numerics.trapped_air);
  EXPECT_TRUE(parsed.value.mould->platform_leaks && !parsed.value.numerics.adiabatic_air);
  const Case other = parse(with("unit = \"mm\"\n",
                                "unit = \"mm\"\nplatform_leaks = false\nvents = [{ at = [\"0 mm\", \"0 mm\"], "
                                "diameter = \"0.4 mm\", slot = \"5 mm\" }]\n") +
                           "[numerics]\nair_process = \"adiabatic\"\n")
                         .value;
  EXPECT_FALSE(other.mould->platform_leaks);
  EXPECT_TRUE(other.numerics.adiabatic_air);
  EXPECT_EQ(other.mould->vents[0].hole.slot_m, 5e-3);
  EXPECT_TRUE(other.mould->vents[0].hole.is_slot());
}

TEST_F(ParseCase, HeatIsFollowedWhereTheCaseSaysEnough) {
  EXPECT_FALSE(parse(kGood).value.heat);
  const std::string told = with("unit = \"mm\"\n", "unit = \"mm\"\nresin = \"standard\"\ntemperature = \"25 °C\"\n");
  const ParsedCase parsed = parse(told);
  ASSERT_TRUE(parsed.value.heat);
  EXPECT_TRUE(parsed.not_used_yet.empty()) << "all three temperatures and the resin have an effect";
  const HeatSpec& heat = *parsed.value.heat;
  EXPECT_NEAR(heat.start_K, 413.15, 1e-9);
  EXPECT_NEAR(heat.mould_K, 298.15, 1e-9);
  EXPECT_NEAR(heat.set_K, 350.15, 1e-9);  // of the card, 77 °C
  EXPECT_EQ(heat.polymer.conductivity_W_mK, 0.22);
  EXPECT_NEAR(heat.polymer.specific_heat_J_kgK, 1800.0, 1e-9);
  EXPECT_EQ(heat.polymer.density_kg_m3, 1270.0);
  EXPECT_NEAR(heat.mould_effusivity_Ws05_m2K, std::sqrt(0.27 * 1180.0 * 1400.0), 1e-6);

  const ParsedCase off = parse(told + "[numerics]\nheat = false\n");
  EXPECT_FALSE(off.value.heat);
  EXPECT_EQ(off.not_used_yet.size(), 3U);
  EXPECT_TRUE(parse(told + "[numerics]\nheat = true\n").value.heat);

  EXPECT_NEAR(heat.draws_from_K, 394.15, 1e-9);  // of the card, 121 °C
  EXPECT_EQ(heat.cooling, Cooling::kGas);
  EXPECT_EQ(parse(told + "[part]\ncooling = \"air\"\n").value.heat->cooling, Cooling::kAir);
  EXPECT_EQ(parse(told + "[part]\ncooling = \"fan\"\n").value.heat->cooling, Cooling::kFan);
}

/// PETG at 140 °C by its card: a_T 140 over 130 °C and what three modes, network and scale leave after 1 s, by hand.
TEST_F(ParseCase, StiffnessFollowsTheTemperatureByTheCardsShift) {
  const std::string told = with("unit = \"mm\"\n", "unit = \"mm\"\nresin = \"standard\"\ntemperature = \"25 °C\"\n");
  const auto modulus_Pa = [](const ParsedCase& parsed) {
    return sheet::small_strain_shear_modulus_Pa(parsed.value.sheet.law);
  };
  const auto log_shift = [](double above_glass_K) { return -17.4 * above_glass_K / (51.6 + above_glass_K); };
  const auto left_MPa = [&](double shift, double warmer) {
    return 0.2 * warmer + 0.4 * std::exp(-10.0 / shift) + 0.25 * std::exp(-1.0 / shift) + 0.15 * std::exp(-0.1 / shift);
  };
  const double shift = std::pow(10.0, log_shift(60.0) - log_shift(50.0));
  const double expected_Pa = 0.45e6 * left_MPa(shift, 413.15 / 403.15) / left_MPa(1.0, 1.0);
  const ParsedCase hot = parse(told);
  EXPECT_NEAR(modulus_Pa(hot) / expected_Pa, 1.0, 1e-9);
  EXPECT_NEAR(hot.value.sheet.shear_modulus_Pa->high / hot.value.sheet.shear_modulus_Pa->likely, 1.0 / 0.45, 1e-9);
  EXPECT_TRUE(hot.value.heat->temperature_to_modulus && hot.value.heat->skin_to_tension &&
              hot.value.heat->skin_to_relief);
  for (const std::string& warning : hot.warnings)
    EXPECT_EQ(warning.find("follows the temperature only"), std::string::npos);

  const ParsedCase off = parse(told + "[numerics]\ntemperature_to_modulus = false\n");
  EXPECT_EQ(modulus_Pa(off), 0.45e6);
  EXPECT_FALSE(off.value.heat->temperature_to_modulus);
  EXPECT_EQ(modulus_Pa(parse(kGood)), 0.45e6) << "a case that says nothing of the mould's temperature";
  const ParsedCase late = parse(told + "[numerics]\nskin_to_tension = false\nskin_to_relief = false\n");
  EXPECT_FALSE(late.value.heat->skin_to_tension || late.value.heat->skin_to_relief);
}

TEST_F(ParseCase, OnlyANeoHookeanSheetCanFollowItsTemperature) {
  const std::string told = with("unit = \"mm\"\n", "unit = \"mm\"\nresin = \"standard\"\ntemperature = \"25 °C\"\n") +
                           "[sheet.law]\nkind = \"mooney-rivlin\"\nc10 = \"0.2 MPa\"\nc01 = \"0.02 MPa\"\n";
  EXPECT_FALSE(parse(told).value.heat->temperature_to_modulus);
  const Fault asked = fault_of(told + "[numerics]\ntemperature_to_modulus = true\n");
  EXPECT_NE(asked.where.find("numerics.temperature_to_modulus"), std::string::npos) << asked.where;
  EXPECT_NE(asked.found.find("not neo-hookean"), std::string::npos) << asked.found;
}

TEST_F(ParseCase, HeatThatIsAskedForAndCannotBeFollowedIsRefused) {
  const std::string on = "[numerics]\nheat = true\n";
  const auto mould = [&](const std::string& lines) { return with("unit = \"mm\"\n", "unit = \"mm\"\n" + lines) + on; };
  const Fault cold = fault_of(mould("resin = \"tough\"\n")), bare = fault_of(mould("temperature = \"25 °C\"\n"));
  EXPECT_NE(cold.found.find("no mould.temperature"), std::string::npos) << cold.found;
  EXPECT_NE(bare.found.find("no mould.resin"), std::string::npos) << bare.found;
  EXPECT_NE(bare.where.find("numerics.heat"), std::string::npos) << bare.where;
}

/// As cold as leather the glass rules: refused with a temperature that will do, and none lower will.
TEST_F(ParseCase, ALeatherySheetIsRefusedWhereTheCardAloneSaysHowStiffItIs) {
  const auto at = [&](int degrees_C) {
    std::string text = with("140 °C", std::to_string(degrees_C) + " °C");
    const std::string unit = "unit = \"mm\"\n";
    return text.replace(text.find(unit), unit.size(), unit + "resin = \"standard\"\ntemperature = \"25 °C\"\n");
  };
  const Fault cold = fault_of(at(95));
  EXPECT_NE(cold.where.find("sheet.temperature"), std::string::npos) << cold.where;
  EXPECT_NE(cold.found.find("leather"), std::string::npos) << cold.found;
  int least_C = 0;
  ASSERT_EQ(std::sscanf(cold.allowed.c_str(), "at least %d", &least_C), 1) << cold.allowed;
  EXPECT_GT(least_C, 95);
  EXPECT_LT(least_C, 115);
  EXPECT_NO_THROW(parse(at(least_C)));
  EXPECT_NE(fault_of(at(least_C - 1)).found.find("leather"), std::string::npos);
  // What was measured there holds, and without stages nothing is formed.
  EXPECT_NO_THROW(parse(at(95) + "[sheet.law]\nkind = \"neo-hookean\"\nshear_modulus = \"0.6 MPa\"\n"));
}

TEST_F(ParseCase, ASheetOutsideItsFormingWindowIsWarnedOfWithTheSource) {
  int warned = 0;
  for (const char* temperature : {"100 °C", "200 °C"}) {
    for (const std::string& warning : parse(with("140 °C", temperature)).warnings) {
      if (warning.find("outside the forming window of petg, 121 °C to 166 °C") == std::string::npos) continue;
      EXPECT_NE(warning.find("guideline table"), std::string::npos) << warning;
      ++warned;
    }
  }
  EXPECT_EQ(warned, 2);
}

TEST_F(ParseCase, ThePrintOfTheMould) {
  const ParsedCase bare = parse(kGood);
  EXPECT_FALSE(bare.value.mould->layer_height_m.has_value());
  EXPECT_EQ(bare.value.mould->build_direction, mesh::Vec3(0, 0, 1));
  EXPECT_FALSE(bare.value.limits.max_layer_line_m.has_value());
  const ParsedCase told = parse(with("unit = \"mm\"\n",
                                     "unit = \"mm\"\nlayer_height = \"0.05 mm\"\n"
                                     "build_direction = [0, -3, 4]\n") +
                                "[limits]\nmax_layer_line = \"5 um\"\n");
  EXPECT_DOUBLE_EQ(told.value.mould->layer_height_m.value(), 0.05e-3);
  EXPECT_NEAR((told.value.mould->build_direction - mesh::Vec3(0, -0.6, 0.8)).norm(), 0.0, 1e-15);
  EXPECT_DOUBLE_EQ(told.value.limits.max_layer_line_m.value(), 5e-6);
  for (const ResolvedValue& value : told.not_used_yet) EXPECT_EQ(value.key, "sheet.temperature");
}

constexpr const char* kRelief =
    "[[relief]]\nname = \"title\"\nsource = { text = \"BASIL\", size = \"6 mm\", depth = \"0.4 mm\" }\n";
constexpr const char* kState =
    "state = { thickness = \"0.5 mm\", shear_modulus = \"0.2 MPa\", pressure = \"4 bar\" }\n";

TEST_F(ParseCase, AReliefAndTheLeastCaptureAreTaken) {
  const ParsedCase parsed = parse(std::string(kGood) + kRelief + "[limits]\nmin_capture = 0.9\n");
  ASSERT_EQ(parsed.value.reliefs.size(), 1U);
  EXPECT_EQ(parsed.value.reliefs[0].name, "title");
  EXPECT_EQ(parsed.value.limits.min_capture, 0.9);
  EXPECT_FALSE(parsed.reliefs_alone);
  ASSERT_EQ(parsed.not_used_yet.size(), 1U) << "sheet.temperature alone";
  EXPECT_FALSE(parse(kGood).value.limits.min_capture);
}

TEST_F(ParseCase, ReliefsWithAStateNeedNoSheetAndNoStagesWhereNothingIsFormed) {
  const std::string alone = std::string(kRelief) + kState;
  const ParsedCase parsed = parse(alone, Purpose::kReliefsAlone);
  EXPECT_TRUE(parsed.reliefs_alone);
  EXPECT_EQ(parsed.value.sheet.thickness_m, 0.0);
  EXPECT_TRUE(parsed.value.stages.empty());
  EXPECT_NE(fault_of(alone).advice.find("sheet is required"), std::string::npos) << "run forms";
  // What is given is read all the same, and must be right.
  EXPECT_EQ(parse(kGood + alone, Purpose::kReliefsAlone).value.sheet.thickness_m, 0.75e-3);
  EXPECT_NE(fault_of(alone + "[sheet]\nthickness = \"0.75 mm\"\n", Purpose::kReliefsAlone).advice.find("outline"),
            std::string::npos);
  EXPECT_FALSE(parse(alone + "[forming]\n", Purpose::kReliefsAlone).value.stages.size() > 0);
  // One without a state asks for the formed sheet.
  const std::string mixed =
      alone + "[[relief]]\nname = \"leaf\"\nsource = { text = \"B\", size = \"6 mm\", depth = \"0.4 mm\" }\n";
  EXPECT_NE(fault_of(mixed, Purpose::kReliefsAlone).advice.find("sheet is required"), std::string::npos);
  EXPECT_FALSE(parse(kGood + mixed, Purpose::kReliefsAlone).reliefs_alone);
  EXPECT_FALSE(parse(kGood, Purpose::kReliefsAlone).reliefs_alone) << "no relief at all";
}

TEST_F(ParseCase, AUnitIsRequiredOnlyWhereTheFileCarriesNone) {
  int checked = 0;
  for (const std::string ending : {"stl", "obj", "ply", "3mf", "step", "STP"}) {
    write("marker." + ending, "is not read here");
    const bool carries = ending == "3mf" || ending == "step" || ending == "STP";
    const std::string text = with("marker.stl", "marker." + ending);
    EXPECT_EQ(parse(text).mould->unit_name, "mm");
    std::string without = text;
    without.erase(without.find("unit = \"mm\"\n"), 12);
    if (carries) {
      EXPECT_EQ(parse(without).mould->unit_name, "");
    } else {
      const Fault fault = fault_of(without);
      EXPECT_EQ(fault.found, "no unit");
      EXPECT_NE(fault.advice.find("bare numbers"), std::string::npos) << fault.advice;
    }
    ++checked;
  }
  EXPECT_EQ(checked, 6);
}

TEST_F(ParseCase, FineElementIsBetweenAThirtySecondOfTheElementAndTheElement) {
  const auto fine = [](const std::string& length) {
    return with("element = \"1.5 mm\"", "element = \"1.5 mm\"\nfine_element = \"" + length + "\"");
  };
  EXPECT_DOUBLE_EQ(parse(fine("0.5 mm")).value.sheet.fine_element_m, 0.5e-3);
  EXPECT_TRUE(parse(fine("0.5 mm")).value.sheet.refines());
  EXPECT_FALSE(parse(fine("0.15 cm")).value.sheet.refines());
  EXPECT_FALSE(parse(kGood).value.sheet.refines());
  for (const std::string length : {"1.6 mm", "0.04 mm"}) {
    const Fault fault = fault_of(fine(length));
    EXPECT_NE(fault.where.find("sheet.fine_element"), std::string::npos);
    EXPECT_NE(fault.allowed.find("1.5 mm"), std::string::npos) << fault.allowed;
  }
}

TEST_F(ParseCase, EveryLawIsRead) {
  const auto law = [](const std::string& keys) { return plus("[sheet.law]\n" + keys); };
  EXPECT_EQ(std::get<sheet::NeoHookean>(parse(law("kind=\"neo-hookean\"\nshear_modulus=\"0.3 MPa\"")).value.sheet.law)
                .shear_modulus_Pa,
            0.3e6);
  EXPECT_EQ(std::get<sheet::MooneyRivlin>(
                parse(law("kind=\"mooney-rivlin\"\nc10=\"0.1 MPa\"\nc01=\"0.02 MPa\"")).value.sheet.law)
                .c01_Pa,
            0.02e6);
  EXPECT_EQ(
      std::get<sheet::Yeoh>(parse(law("kind=\"yeoh\"\nc10=\"0.1 MPa\"\nc20=\"-1 kPa\"\nc30=\"10 Pa\"")).value.sheet.law)
          .c20_Pa,
      -1e3);
  const ParsedCase ogden =
      parse(law("kind=\"ogden\"\nmu=[\"0.63 MPa\",\"0.0012 MPa\",\"-0.01 MPa\"]\nalpha=[1.3, 5, -2]"));
  EXPECT_EQ(std::get<sheet::Ogden>(ogden.value.sheet.law).terms, 3);
  EXPECT_EQ(ogden.value.sheet.density_kg_m3, 1270) << "the rest stays with the card";
  EXPECT_EQ(resolved(ogden, "sheet.law.kind").origin, Origin::kCase);
}

TEST_F(ParseCase, LawsThatAreNoLawsAreRefused) {
  const auto law = [](const std::string& keys) { return plus("[sheet.law]\n" + keys + "\n"); };
  int refused = 0;
  for (const std::string& keys :
       {std::string("kind=\"neo-hookean\""), std::string("shear_modulus=\"1 MPa\""),
        std::string("kind=\"neo-hookean\"\nshear_modulus=\"-1 MPa\""),
        std::string("kind=\"neo-hookean\"\nshear_modulus=\"1 MPa\"\nc10=\"1 MPa\""),
        std::string("kind=\"mooney-rivlin\"\nc10=\"1 MPa\"\nc01=\"-1 MPa\""),
        std::string("kind=\"yeoh\"\nc10=\"0 MPa\"\nc20=\"1 MPa\"\nc30=\"1 MPa\""),
        std::string("kind=\"ogden\"\nmu=[\"1 MPa\"]\nalpha=[1, 2]"),
        std::string("kind=\"ogden\"\nmu=[\"1 MPa\"]\nalpha=[0]"),
        std::string("kind=\"ogden\"\nmu=[\"1 MPa\"]\nalpha=[-2]"), std::string("kind=\"ogden\"\nmu=[]\nalpha=[]"),
        std::string("kind=\"ogden\"\nmu=[\"1 Pa\",\"1 Pa\",\"1 Pa\",\"1 Pa\",\"1 Pa\",\"1 Pa\",\"1 Pa\"]\n"
                    "alpha=[1,1,1,1,1,1,1]"),
        std::string("kind=\"elastic\"")}) {
    EXPECT_EQ(fault_of(law(keys)).kind, Fault::Kind::kCase) << keys;
    ++refused;
  }
  EXPECT_EQ(refused, 12);
}

TEST_F(ParseCase, ALawAloneNeedsADensity) {
  const std::string law = "[sheet.law]\nkind = \"neo-hookean\"\nshear_modulus = \"0.3 MPa\"\n";
  const std::string no_card = with("polymer = \"petg\"\n", "");
  EXPECT_NE(fault_of(no_card + law).advice.find("density is required"), std::string::npos);
  EXPECT_NE(fault_of(no_card).found.find("neither polymer nor law"), std::string::npos);
  const ParsedCase parsed = parse(with("polymer = \"petg\"\n", "density = \"1.2 g/cm^3\"\n") + law);
  EXPECT_DOUBLE_EQ(parsed.value.sheet.density_kg_m3, 1200);
  EXPECT_FALSE(parsed.value.sheet.stretch_limit);
  EXPECT_EQ(parsed.value.sheet.polymer, "");
}

TEST_F(ParseCase, StagesTakeExactlyOneDrive) {
  EXPECT_NE(fault_of(with("pressure = \"4 bar\"\n", "")).found.find("none of"), std::string::npos);
  EXPECT_EQ(fault_of(with("pressure = \"4 bar\"", "pressure = \"4 bar\"\nvolume = \"60 cm^3\"")).found,
            "pressure and volume");
  const ParsedCase parsed =
      parse(with("pressure = \"4 bar\"",
                 "gas = { supply = \"4 bar\", orifice = \"3 mm\", chamber = \"0.3 L\", process = \"adiabatic\" }") +
            "[[forming.stage]]\nduration = \"1 s\"\nvolume = \"60 cm^3\"\nclamp_to = \"0 mm\"\n");
  const GasDrive& gas = std::get<GasDrive>(parsed.value.stages[0].drive);
  EXPECT_EQ(gas.supply_Pa, 4e5);
  EXPECT_EQ(gas.orifice_m, 3e-3);
  EXPECT_EQ(gas.chamber_m3, 0.3e-3);
  EXPECT_TRUE(gas.adiabatic);
  EXPECT_EQ(parsed.value.stages[1].name, "stage 2");
  EXPECT_EQ(std::get<VolumeDrive>(parsed.value.stages[1].drive).volume_m3, 60e-6);
  EXPECT_EQ(parsed.value.stages[1].clamp_to_m, 0.0);
}

TEST_F(ParseCase, TrimIsALoopOrAHeight) {
  const auto trim = [](const std::string& value) { return plus("[part]\ntrim = " + value + "\n"); };
  const std::string a = "[\"0 mm\",\"0 mm\"]", b = "[\"10 mm\",\"0 mm\"]", c = "[\"0 mm\",\"10 mm\"]",
                    d = "[\"10 mm\",\"10 mm\"]";
  EXPECT_EQ(std::get<HeightTrim>(parse(trim("{ height = \"1 mm\" }")).value.trim).above_platform_m, 1e-3);
  EXPECT_EQ(std::get<LoopTrim>(parse(trim("[" + a + "," + b + "," + d + "," + c + "]")).value.trim).loop_m.size(), 4U);
  EXPECT_EQ(std::get<LoopTrim>(parse(trim("[" + a + "," + b + "," + c + "," + a + "]")).value.trim).loop_m.size(), 3U);
  int refused = 0;
  for (const std::string& loop :
       {"[" + a + "," + b + "]", "[" + a + "," + b + "," + c + "," + d + "]",  // too few; crossing
        "[" + a + "," + a + "," + b + "," + c + "]",                           // twice a point
        "[" + a + "," + b + ",[\"20 mm\",\"0 mm\"]]",                          // a line
        std::string("[[\"0 mm\"]]"), std::string("[]"), std::string("\"1 mm\""), std::string("{ }")}) {
    EXPECT_EQ(fault_of(trim(loop)).kind, Fault::Kind::kCase) << loop;
    ++refused;
  }
  EXPECT_EQ(refused, 8);
}

TEST_F(ParseCase, WholeNumbersAreWrittenEitherWay) {
  EXPECT_EQ(parse(plus("[numerics]\nframes = 10.0\nthreads = 2\n")).value.numerics.frames, 10);
  EXPECT_NO_THROW(parse(plus("[limits]\nmin_capture = 1\n")));
  EXPECT_EQ(fault_of(plus("[numerics]\nframes = 10.5\n")).found, "10.5");
  EXPECT_EQ(fault_of(plus("[numerics]\nenergy_limit = nan\n")).found, "nan");
  EXPECT_EQ(fault_of(plus("[numerics]\nenergy_limit = inf\n")).found, "inf");
}

TEST_F(ParseCase, NumbersDoNotDependOnTheLocale) {
  const char* before = std::setlocale(LC_ALL, nullptr);
  const std::string kept = before ? before : "C";
  for (const char* locale : {"de_DE.UTF-8", "de_DE.utf8", "fr_FR.UTF-8"}) {
    if (std::setlocale(LC_ALL, locale) != nullptr) break;  // none installed: the C locale is tested again
  }
  EXPECT_EQ(parse(kGood).value.sheet.thickness_m, 0.75e-3);
  EXPECT_EQ(parse(plus("[limits]\nmin_thickness = \"0.25 mm\"\n")).value.limits.min_thickness_m, 0.25e-3);
  std::setlocale(LC_ALL, kept.c_str());
}

TEST_F(ParseCase, TheSheetMustStandAboveThePlatform) {
  EXPECT_EQ(fault_of(with("height = \"25 mm\"", "height = \"-1 mm\"")).kind, Fault::Kind::kGeometry);
  EXPECT_NO_THROW(parse(with("height = \"25 mm\"", "height = \"-7 um\"")));  // within 1 % of 0.75 mm: touch
  EXPECT_EQ(fault_of(plus("clamp_to = \"-1 mm\"\n")).kind, Fault::Kind::kGeometry);
}

TEST_F(ParseCase, ErrorsAboutTheCaseGetTheLineOfTheirKey) {
  const ParsedCase parsed =
      parse(plus("clamp_to = \"20 mm\"\n[[forming.stage]]\nname = \"it's, a 'hold', so\"\n"
                 "duration = \"1 s\"\npressure = \"4 bar\"\nclamp_to = \"10 mm\"\n"));
  const auto where = [&](std::string key, Fault::Kind kind = Fault::Kind::kGeometry) {
    return with_line(parsed, Error({kind, std::move(key), "a", "b", "c"})).fault().where;
  };
  const std::string file = parsed.file.string();
  EXPECT_EQ(where("sheet.height"), file + ":6, sheet.height");
  EXPECT_EQ(where("mould.surface"), file + ":10, mould.surface");
  EXPECT_EQ(where("stage 'press', clamp_to"), file + ":16, stage 'press', clamp_to");
  EXPECT_EQ(where("stage 'it's, a 'hold', so', clamp_to"), file + ":21, stage 'it's, a 'hold', so', clamp_to");
  for (const char* other : {"sheet mesh", "stage 'press'", "stage '', clamp_to", "stage 'no', clamp_to",
                            "sheet.rim_element", "marker.stl, facet 2", ""}) {
    EXPECT_EQ(where(other), other);
  }
  EXPECT_EQ(where("sheet.height", Fault::Kind::kCase), file + ":6, sheet.height");
  EXPECT_EQ(where("sheet", Fault::Kind::kCase), "sheet");
  EXPECT_EQ(where("sheet.height", Fault::Kind::kSolution), "sheet.height");
}

TEST_F(ParseCase, WarningsDoNotStopIt) {
  EXPECT_EQ(parse(with("140 °C", "200 °C")).warnings.size(), 2U);  // outside the card's range, far from its modulus
  EXPECT_EQ(parse(with("element = \"1.5 mm\"", "element = \"0.7 mm\"")).warnings.size(), 1U);
  EXPECT_EQ(
      parse(plus("[[forming.stage]]\nname = \"press\"\nduration = \"1 s\"\npressure = \"4 bar\"\n")).warnings.size(),
      1U);
}

TEST_F(ParseCase, FreeInflationNeedsNoMould) {
  const ParsedCase parsed = parse(
      "[sheet]\npolymer = \"hips\"\nthickness = \"1 mm\"\noutline = { rectangle = [\"120 mm\", \"80 mm\"] }\n"
      "[[forming.stage]]\nduration = \"1 s\"\nvolume = \"60 mL\"\n");
  EXPECT_FALSE(parsed.value.mould);
  EXPECT_FALSE(parsed.mould);
  EXPECT_EQ(parsed.value.sheet.height_m, 0.0);
  EXPECT_EQ(parsed.value.sheet.element_m, 1e-3);  // 80 mm / 80
  EXPECT_EQ(std::get<mesh::RoundedRectangle>(parsed.value.sheet.outline.shape).corner_m, 0.0);
}

TEST_F(ParseCase, ThePathOfACase) {
  write("basil.toml", kGood);
  EXPECT_EQ(parse_case(folder_ / "basil.toml").result_stem, "basil");
  EXPECT_THROW(parse_case(folder_), Error) << "no case.toml";
  EXPECT_THROW(parse_case(folder_ / "none.toml"), Error);
  EXPECT_THROW(parse_case(folder_ / "marker.stl"), Error);
  EXPECT_THROW(parse_case(""), Error);
}

TEST_F(ParseCase, ALoopIsTakenInEitherDirectionAndClosedByHandOrNot) {
  const std::string disc = "{ disc = \"100 mm\" }";
  for (const char* loop : {R"([["0 mm","0 mm"],["8 cm","0 mm"],["80 mm","60 mm"]])",
                           R"([["80 mm","60 mm"],["80 mm","0 mm"],["0 mm","0 mm"],["80 mm","60 mm"]])"}) {
    const ParsedCase parsed = parse(with(disc, std::string("{ loop = ") + loop + " }\ncentre = [\"5 mm\", \"-7 mm\"]"));
    const mesh::Outline& outline = parsed.value.sheet.outline;
    EXPECT_EQ(std::get<mesh::Loop>(outline.shape).points_m.size(), 3U);
    EXPECT_NEAR(mesh::area_m2(outline), 0.5 * 0.08 * 0.06, 1e-17);
    EXPECT_NEAR(mesh::half_width_m(outline), 0.02, 0.001 * 0.02);  // 3-4-5: r = (a + b - c)/2
    EXPECT_TRUE(mesh::contains(outline, {0.005 + 0.06, -0.007 + 0.02}));
    EXPECT_FALSE(mesh::contains(outline, {0.06, 0.05}));
  }
}

TEST_F(ParseCase, APathLooksFromAboveAsItIsDrawn) {
  const ParsedCase parsed = parse(
      with("{ disc = \"100 mm\" }", "{ path = \"M 0 0 H 8 V 6 Z\", unit = \"cm\" }"));  // y of a drawing: downwards
  const mesh::Outline& outline = parsed.value.sheet.outline;
  EXPECT_NEAR(mesh::area_m2(outline), 0.5 * 0.08 * 0.06, 1e-17);
  EXPECT_TRUE(mesh::contains(outline, {0.06, -0.02}));
  EXPECT_FALSE(mesh::contains(outline, {0.06, 0.02}));
  EXPECT_EQ(resolved(parsed, "sheet.outline.path").value, "M 0 0 H 8 V 6 Z");
}

TEST_F(ParseCase, OutlinesThatMakeNoSheetAreRefusedOnTheirLine) {
  struct Bad {
    const char* outline;
    const char* key;
    const char* found;
  };
  for (const Bad& bad :
       {Bad{R"({ loop = [["0 mm","0 mm"],["80 mm","0 mm"]] })", "outline.loop", "a loop of 2"},
        {R"({ loop = [["0 mm","0 mm"],["80 mm","0 mm"],["0 mm","60 mm"],["80 mm","60 mm"]] })", "outline.loop",
         "crosses itself"},
        {R"({ loop = [["0 mm","0 mm"],["80 mm","0 mm"],["0 mm","20 mm"]] })", "outline.loop", "a spike of 14°"},
        {R"({ loop = [["0 mm","0 mm"],["80 mm","0 mm"],["80 mm"]] })", "outline.loop", "a list of 1 as a point"},
        {R"({ loop = { height = "3 mm" } })", "outline.loop", "a table"},
        {R"({ path = "M 0 0 H 80 V 60 Z" })", "outline", "a path without unit"},
        {R"({ path = "M 0 0 H 80 V 60", unit = "mm" })", "outline.path", "an open path"},
        {R"({ path = "M 0 0 H 80 V 60 Z", unit = "m" })", "outline.path", "a point at (80, 0) m"},
        {R"({ path = "M 0 0 H 80 Z", unit = "mm" })", "outline.path", "a loop of 2"},
        {R"({ path = "M 0 0 H 80 V 60 Z", unit = "mm", corner = "2 mm" })", "outline.corner", "without a rectangle"},
        {R"({ disc = "80 mm", unit = "mm" })", "outline.unit", "a unit without a path"},
        {R"({ disc = "80 mm", path = "M 0 0 H 80 V 60 Z", unit = "mm" })", "outline", "both disc and path"},
        // a slit of 0.2 mm where edges are 1.5 mm
        {R"({ path = "M 0 0 H 80 V 60 H 40.2 V 20 H 40 V 60 H 0 Z", unit = "mm" })", "outline.path", "0.2 mm wide"}}) {
    const Fault fault = fault_of(with("{ disc = \"100 mm\" }", bad.outline));
    EXPECT_EQ(fault.kind, Fault::Kind::kCase) << bad.outline;
    EXPECT_NE(fault.where.find(std::string("case.toml:5, sheet.") + bad.key), std::string::npos) << fault.where;
    EXPECT_NE(fault.found.find(bad.found), std::string::npos) << bad.outline << ": " << fault.found;
    EXPECT_NE(fault.allowed, "") << bad.outline;
  }
}

}  // namespace
}  // namespace pellicle::cases
