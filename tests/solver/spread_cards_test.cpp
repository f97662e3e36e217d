// Do the numbers of the cards move what they should, and is no more made anew for them than they move?
#include "mesh/shapes.h"
#include "solver/spread.h"
#include "tests/solver/checks/printed.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <string>
#include <vector>

namespace pellicle {
namespace {

/// PETG on a printed block of 12 x 12 x 4 mm, a shell of 1.5 mm; sheet, part and mould are all asked for.
Case block_case() {
  Case c{};
  c.sheet.polymer = "petg";
  c.sheet.law = sheet::NeoHookean{0.45e6};
  c.sheet.density_kg_m3 = 1270.0;
  c.sheet.thickness_m = 0.75e-3;
  c.sheet.outline = {mesh::Disc{40e-3}, mesh::Vec2::Zero()};
  c.sheet.height_m = 5e-3;
  c.sheet.element_m = c.sheet.rim_element_m = 4e-3;
  c.sheet.temperature_K = 413.15;
  c.sheet.stretch_limit = Estimate{4.0, 2.6, 6.0};
  c.sheet.solid = SolidPolymer{{2.1e9, 1.9e9, 2.2e9}, {0.39, 0.37, 0.41},    {68e-6, 65e-6, 90e-6},
                               {0.04, 0.035, 0.05},   {0.004, 0.003, 0.005}, 350.15};
  c.mould = MouldSpec{.platform = true, .friction = {.stick = true, .coefficient = 0.0}};
  c.mould->build = checks::printed(1.5e-3);
  c.mould->build->tries = false;
  c.mould->build->resin.poisson = {0.37, 0.33, 0.42};
  c.mould->build->resin.across_layers = {0.85, 0.6, 1.0};
  HeatSpec heat{};
  heat.polymer = *c.mould->build->polymer;
  heat.start_K = 413.15, heat.mould_K = 296.15, heat.set_K = 350.15;
  const ResinSpec& resin = c.mould->build->resin;
  c.bands.sheet = {{0.22, 0.19, 0.25}, {1800.0, 1100.0, 2700.0}, {1270.0, 1270.0, 1270.0}};
  c.bands.mould = {resin.conductivity_W_mK, resin.specific_heat_J_kgK, resin.density_kg_m3};
  heat.mould_effusivity_Ws05_m2K = std::sqrt(0.27 * 1400.0 * 1180.0);
  c.heat = heat;
  c.stages = {{"press", 0.5, PressureDrive{2e5}, {}}};
  c.trim = HeightTrim{0.5e-3};
  c.numerics.frames = 1;
  return c;
}

Geometry block() { return {mesh::box({-6e-3, -6e-3, 0.0}, {6e-3, 6e-3, 4e-3})}; }

const checks::Finding* find(const CaseResult& r, const std::string& id) {
  const auto it = std::find_if(r.findings.begin(), r.findings.end(), [&](const auto& f) { return f.id == id; });
  return it == r.findings.end() ? nullptr : &*it;
}
bool same(double a, double b) { return a == b || (std::isnan(a) && std::isnan(b)); }
bool same(const checks::Finding& a, const checks::Finding& b) {
  return same(a.value, b.value) && same(a.limit.value_or(0.0), b.limit.value_or(0.0));
}

Unsure number(const Case& c, const std::string& name) {
  for (const Unsure& u : unsure_numbers(c))
    if (u.name == name) return u;
  ADD_FAILURE() << "no number " << name;
  return {};
}

// Forming anew is the brute force. For every number that is said not to need it: what is answered again is what a whole
// run answers, bit by bit, and what is not asked again stays as it was.
TEST(AnswerAgain, MakesNoMoreAnewThanANumberMoves) {
  const Case c = block_case();
  const CaseResult likely = run(c, block(), {});
  ASSERT_TRUE(find(likely, "mould_stress") && std::isfinite(find(likely, "mould_stress")->value));
  std::set<std::string> names, moved;
  for (const Unsure& u : unsure_numbers(c)) {
    if (u.anew == Anew::kAll || !u.at_low) continue;
    const CaseResult whole = run(*u.at_low, block(), {});
    const CaseResult part = answer_again(*u.at_low, block(), u.anew, likely.snapshot, {});
    ASSERT_FALSE(part.findings.empty());
    names.insert(u.name);
    for (const checks::Finding& f : whole.findings) {
      const checks::Finding *again = find(part, f.id), *before = find(likely, f.id);
      ASSERT_NE(before, nullptr);
      EXPECT_TRUE(same(f, again != nullptr ? *again : *before)) << u.name << " and " << f.id;
      if (!same(f, *before)) moved.insert(u.name);
    }
  }
  EXPECT_EQ(names.size(), 16U);
  for (const char* name :
       {"set temperature", "strength of the resin", "modulus of the resin", "deflection temperatures of the resin",
        "shrinkage of the sheet's polymer", "stretch before tearing", "expansion of the resin",
        "heat passed from the mould to the platform"})
    EXPECT_TRUE(moved.contains(name)) << name << " moves nothing: the check says nothing of it";
}

TEST(AnswerAgain, WithLikelyNumbersIsTheRun) {
  const Case c = block_case();
  const CaseResult likely = run(c, block(), {});
  const CaseResult again = answer_again(c, block(), Anew::kAnswers, likely.snapshot, {});
  ASSERT_EQ(again.findings.size(), likely.findings.size());
  for (std::size_t i = 0; i < again.findings.size(); ++i)
    EXPECT_TRUE(same(again.findings[i], likely.findings[i])) << likely.findings[i].id;
  EXPECT_EQ(again.steps, likely.steps) << "nothing is formed";
}

// A mould that stays at room temperature has the card's strength: the limit of mould_stress is half of it, and nothing
// else moves that. Round-off only.
TEST(Spread, OfALimitIsMovedByTheStrengthOfTheResin) {
  Case c = block_case();
  c.mould->build->polymer.reset();
  CaseResult r = run(c, block(), {});
  const CaseResult formed = r;
  const auto mould_alone = [&](const Case& other, Anew anew, const forming::Snapshot& from) {
    if (anew == Anew::kAll) return formed;
    return anew == Anew::kMould ? answer_again(other, block(), anew, from, {}) : CaseResult{};
  };
  add_spread(
      c, mould_alone, [](const std::string&) {}, r);
  const checks::Finding& stress = *find(r, "mould_stress");
  ASSERT_TRUE(stress.limit_band);
  EXPECT_EQ(stress.limit_band->moved_by, "strength of the resin");
  EXPECT_TRUE(stress.limit_band->moved_too.empty());
  EXPECT_NEAR(stress.limit_band->low, *stress.limit * 80.0 / 95.0, 1e-9 * *stress.limit);
  EXPECT_NEAR(stress.limit_band->high, *stress.limit * 110.0 / 95.0, 1e-9 * *stress.limit);
  EXPECT_FALSE(find(r, "undercut")->limit_band);
}

// cooling = rho cp h^2/k: with k within a seventh and cp within a half either way both are told, cp first.
TEST(Spread, NamesWhoMovesAnAnswerBesidesTheFirst) {
  const Case c = block_case();
  const auto by_formula = [](const Case& other, Anew, const forming::Snapshot&) {
    const sheet::HeatMaterial& m = other.heat->polymer;
    CaseResult r;
    r.findings = {{"cooling", "", m.density_kg_m3 * m.specific_heat_J_kgK / m.conductivity_W_mK, "s"}};
    return r;
  };
  CaseResult r = by_formula(c, Anew::kAll, {});
  add_spread(
      c, by_formula, [](const std::string&) {}, r);
  const auto& band = r.findings[0].band;
  ASSERT_TRUE(band);
  EXPECT_EQ(band->moved_by, "specific heat of the sheet");
  EXPECT_TRUE(band->moved_too.empty()) << "0.16 of 0.5 is less than a third";
  Case sure = c;
  sure.bands.sheet->specific_heat_J_kgK = {1800.0, 1600.0, 2000.0};
  CaseResult close = by_formula(sure, Anew::kAll, {});
  add_spread(
      sure, by_formula, [](const std::string&) {}, close);
  EXPECT_EQ(close.findings[0].band->moved_by, "heat conductivity of the sheet");
  EXPECT_EQ(close.findings[0].band->moved_too, std::vector<std::string>{"specific heat of the sheet"});
}

// A poorer conductor cools more slowly, formed and asked anew.
TEST(SpreadCards, ConductivityMovesCooling) {
  const Unsure u = number(block_case(), "heat conductivity of the sheet");
  ASSERT_EQ(u.anew, Anew::kAll);
  EXPECT_EQ(u.low, "0.19 W/(m K)");
  EXPECT_GT(find(run(*u.at_low, block(), {}), "cooling")->value, find(run(*u.at_high, block(), {}), "cooling")->value);
}

// Numbers go where they are used: heat of the sheet and of the resin in two places each.
TEST(SpreadCards, ChangeWhatTheySay) {
  const Case c = block_case();
  const Unsure sheet = number(c, "heat conductivity of the sheet"), resin = number(c, "heat conductivity of the resin");
  EXPECT_EQ(sheet.at_high->heat->polymer.conductivity_W_mK, 0.25);
  EXPECT_EQ(sheet.at_high->mould->build->polymer->conductivity_W_mK, 0.25);
  EXPECT_EQ(resin.at_low->mould->build->resin.conductivity_W_mK.likely, 0.2);
  EXPECT_DOUBLE_EQ(resin.at_low->heat->mould_effusivity_Ws05_m2K, std::sqrt(0.2 * 1400.0 * 1180.0));
  EXPECT_EQ(resin.anew, Anew::kAll) << "the sheet is chilled by it";
  const Unsure soft = number(c, "deflection temperatures of the resin");
  EXPECT_DOUBLE_EQ(soft.at_low->mould->build->resin.deflects_at_045_K.likely, 58.0 + 273.15);
  EXPECT_DOUBLE_EQ(soft.at_low->mould->build->resin.deflects_at_180_K.likely, 50.0 + 273.15);
  EXPECT_EQ(soft.low, "58 and 50 °C");
  const Unsure contact = number(c, "heat passed to the mould where they touch");
  EXPECT_EQ(contact.at_low->mould->build->contact_W_m2K, 500.0);
  EXPECT_EQ(contact.at_low->heat->contact_W_m2K, 500.0);
  EXPECT_EQ(number(c, "expansion of the solid sheet").at_high->sheet.solid->expansion_1_K.likely, 90e-6);
  EXPECT_EQ(number(c, "friction of the part on the mould").at_low->sheet.solid->friction, 0.1);
  EXPECT_FALSE(number(c, "set temperature").at_low->mould->build) << "the mould's body does not feel it";
  for (const Unsure& u : unsure_numbers(c)) {
    EXPECT_NE(u.name, "density of the sheet") << "the card gives no band";
    EXPECT_NE(u.name, "specific heat of the resin");
  }
}

// Where no heat is followed the printed mould alone warms, and nothing of that is formed anew.
TEST(SpreadCards, WithoutHeatMoveTheMouldAlone) {
  Case c = block_case();
  c.heat.reset();
  for (const char* name : {"heat conductivity of the sheet", "specific heat of the sheet", "temperature of the mould",
                           "heat conductivity of the resin", "heat passed to the mould where they touch"})
    EXPECT_EQ(number(c, name).anew, Anew::kMould) << name;
  c.mould->build->polymer.reset();  // no heat of the sheet is known
  for (const Unsure& u : unsure_numbers(c)) EXPECT_FALSE(u.name.starts_with("heat ")) << u.name;
  c.mould->build.reset();
  for (const Unsure& u : unsure_numbers(c)) EXPECT_EQ(u.name.find("resin"), std::string::npos) << u.name;
}

/// A law of one mode beside network and glass, glassy at 80 degrees C.
sheet::HotLaw hot_law(double mode_Pa, double glass_Pa) {
  sheet::HotLaw law{{0.2e6}, {}};
  law.relaxation.modes = {{mode_Pa, 1.0}, {glass_Pa, 1e-7}};
  law.relaxation.shift = sheet::with_reference({353.15, 17.4, 51.6, 353.15, 5e5}, 403.15);
  return law;
}

// The glass is capped as the sheet is formed: another one moves detail alone. Another mode moves the forming, and the
// modulus that pace and screening go by.
TEST(SpreadCards, ALawThatFormsAlikeIsNotFormedAnew) {
  Case c = block_case();
  c.heat->law = hot_law(0.4e6, 0.75e9);
  c.bands.laws = {{"glass", "", "", "", hot_law(0.4e6, 0.5e9), hot_law(0.4e6, 1.1e9)},
                  {"mode", "", "", "", hot_law(0.2e6, 0.75e9), hot_law(0.8e6, 0.75e9)}};
  EXPECT_EQ(number(c, "glass").anew, Anew::kAnswers);
  const Unsure mode = number(c, "mode");
  EXPECT_EQ(mode.anew, Anew::kAll);
  EXPECT_LT(sheet::small_strain_shear_modulus_Pa(mode.at_low->sheet.law), 0.45e6);
  EXPECT_GT(sheet::small_strain_shear_modulus_Pa(mode.at_high->sheet.law), 0.45e6);
  c.heat->temperature_to_modulus = false;
  EXPECT_EQ(number(c, "mode").anew, Anew::kAnswers) << "no temperature counts while it is formed";
  EXPECT_EQ(sheet::small_strain_shear_modulus_Pa(number(c, "mode").at_low->sheet.law), 0.45e6);
}

}  // namespace
}  // namespace pellicle
