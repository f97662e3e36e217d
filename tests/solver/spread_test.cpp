// Do the bands of the answers come from the numbers in doubt as a hand calculation says?
#include "solver/spread.h"

#include "mesh/check.h"
#include "solver/reference/meridian.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

namespace pellicle {
namespace {

constexpr double kG_Pa = 0.3e6, kRadius_m = 20e-3, kGauge_m = 1e-3;

/// A free disc pressed below its limit load; nothing but stiffness, gauge and pressure counts.
Case dome_case(double pressure_Pa, double stiff, double soft) {
  Case c{};
  c.sheet.law = sheet::NeoHookean{kG_Pa};
  c.sheet.shear_modulus_Pa = Estimate{kG_Pa, kG_Pa / soft, kG_Pa * stiff};
  c.sheet.density_kg_m3 = 1200.0;
  c.sheet.thickness_m = kGauge_m;
  c.sheet.outline = {mesh::Disc{2.0 * kRadius_m}, mesh::Vec2::Zero()};
  c.sheet.height_m = 30e-3;
  c.sheet.element_m = c.sheet.rim_element_m = 1.25e-3;
  c.sheet.temperature_K = 293.15;
  c.stages = {{"blow", 1.0, PressureDrive{pressure_Pa}, {}}};
  c.trim = HeightTrim{0.0};
  return c;
}

const checks::Finding& finding(const CaseResult& r, const std::string& id) {
  return *std::find_if(r.findings.begin(), r.findings.end(), [&](const checks::Finding& f) { return f.id == id; });
}

/// Case -> answers by formula: depth = 2e-6 p/G, a wall of 0.4 gauges, and one that only the clamp height moves.
CaseResult by_formula(const Case& c) {
  const double p_Pa = std::get<PressureDrive>(c.stages.front().drive).pressure_Pa;
  const double G_Pa = sheet::small_strain_shear_modulus_Pa(c.sheet.law);
  CaseResult r;
  r.findings = {{"depth", "", 2e-6 * p_Pa / G_Pa, "mm"},
                {"thinnest_wall", "", 0.4e3 * c.sheet.thickness_m, "mm"},
                {"cooling", "", std::nan(""), "s"},
                {"height", "", c.sheet.height_m, "mm"}};
  ReliefResult relief;
  relief.answer.name = "name";
  relief.answer.capture = std::min(1.0, 1.2e-6 * p_Pa * 1e6 / G_Pa);
  r.reliefs = {relief};
  return r;
}
const auto kSilent = [](const std::string&) {};

/// Answers of a case whatever has to be made anew for them.
template <class Answers>
AnswerAgain all_of(const Answers& answers) {
  return [answers](const Case& other, Anew, const forming::Snapshot&) { return answers(other); };
}

// 1 bar, G 0.3 MPa, band 0.2 to 0.6 MPa: p/G from 1/0.2 to 1/0.6, and pressure 10 % either way (spread_numbers.cpp).
// Round-off only.
TEST(Spread, IsTheRootOfTheSumOfSquaresOfWhatEachNumberDoes) {
  const Case c = dome_case(1e5, 2.0, 1.5);
  CaseResult r = by_formula(c);
  const SpreadReport report = add_spread(c, all_of(by_formula), kSilent, r);
  EXPECT_EQ(report.numbers.size(), 3U);  // stiffness, gauge, pressure
  EXPECT_EQ(report.side_runs, 7);
  EXPECT_EQ(report.wanted, 7);
  EXPECT_TRUE(report.failures.empty() && report.remarks.empty() && !report.stopped);
  const double depth = 2e-6 / 3.0;  // 2e-6 p/G
  const checks::Finding& f = finding(r, "depth");
  ASSERT_TRUE(f.band);
  EXPECT_NEAR(f.band->high, depth * (1.0 + std::hypot(0.5, 0.1)), 1e-12 * depth);
  EXPECT_NEAR(f.band->low, depth * (1.0 - std::hypot(0.5, 0.1)), 1e-12 * depth);
  EXPECT_EQ(f.band->moved_by, "stiffness of the hot sheet");
  const auto& wall = finding(r, "thinnest_wall").band;
  ASSERT_TRUE(wall);
  EXPECT_NEAR(wall->low, 0.36, 1e-12);
  EXPECT_NEAR(wall->high, 0.44, 1e-12);
  EXPECT_EQ(wall->moved_by, "gauge of the sheet");
  EXPECT_FALSE(finding(r, "cooling").band) << "no answer, no band";
  const auto& height = finding(r, "height").band;
  ASSERT_TRUE(height);
  EXPECT_EQ(height->low, height->high);
  EXPECT_TRUE(height->moved_by.empty());
  // A share stops at 1: 0.4 (1 + 0.51) = 0.6; and with a softer sheet, 1.2/(1.5 0.1) and more.
  ASSERT_TRUE(r.reliefs.front().capture_band);
  EXPECT_NEAR(r.reliefs.front().capture_band->high, 0.4 * (1.0 + std::hypot(0.5, 0.1)), 1e-12);
  const Case soft = dome_case(1e5, 2.0, 10.0);
  CaseResult full = by_formula(soft);
  add_spread(soft, all_of(by_formula), kSilent, full);
  EXPECT_EQ(full.reliefs.front().capture_band->high, 1.0);
}

TEST(Spread, KeepsItsSidesApart) {
  const Case c = dome_case(1e5, 3.0, 1.25);  // a quarter softer, or three times as stiff
  CaseResult r = by_formula(c);
  add_spread(c, all_of(by_formula), kSilent, r);
  const double depth = 2e-6 / 3.0;
  const auto& band = finding(r, "depth").band;
  EXPECT_NEAR(band->high, depth * (1.0 + std::hypot(0.25, 0.1)), 1e-12 * depth);
  EXPECT_NEAR(band->low, depth * (1.0 - std::hypot(2.0 / 3.0, 0.1)), 1e-12 * depth);
}

// What lies at its optimum falls with either end: only the low side moves, by the larger of the two.
TEST(Spread, ANumberThatLowersTheAnswerAtBothEndsLowersItOnce) {
  const Case c = dome_case(1e5, 2.0, 1.5);
  const auto best_at_likely = [](const Case& other) {
    CaseResult r;
    const double off = sheet::small_strain_shear_modulus_Pa(other.sheet.law) / kG_Pa - 1.0;  // -1/3 and 1
    r.findings = {{"x", "", 10.0 - off * off, "mm"}};
    return r;
  };
  CaseResult r = best_at_likely(c);
  add_spread(c, all_of(best_at_likely), kSilent, r);
  EXPECT_NEAR(r.findings[0].band->low, 9.0, 1e-12);
  EXPECT_EQ(r.findings[0].band->high, 10.0);
}

TEST(Spread, SideRunsThatFailAreToldAndCountForNothing) {
  const Case c = dome_case(1e5, 2.0, 1.5);
  const auto stiff_fails = [](const Case& other) {
    if (sheet::small_strain_shear_modulus_Pa(other.sheet.law) > 1.5 * kG_Pa)
      throw Error({Fault::Kind::kSolution, "step 12", "a wild sheet", "a calm one", ""});
    return by_formula(other);
  };
  CaseResult r = by_formula(c);
  const SpreadReport report = add_spread(c, all_of(stiff_fails), kSilent, r);
  ASSERT_EQ(report.failures.size(), 1U);
  EXPECT_NE(report.failures[0].find("stiffness of the hot sheet"), std::string::npos);
  EXPECT_NE(report.failures[0].find("a wild sheet"), std::string::npos);
  EXPECT_EQ(report.side_runs, 6);
  const double depth = 2e-6 / 3.0;
  EXPECT_NEAR(finding(r, "depth").band->low, 0.9 * depth, 1e-12 * depth);  // pressure alone
  // Without the likely numbers there is nothing to compare with.
  const auto all_fail = [](const Case&) -> CaseResult { throw Error({Fault::Kind::kSolution, "a", "b", "c", ""}); };
  CaseResult none = by_formula(c);
  EXPECT_EQ(add_spread(c, all_of(all_fail), kSilent, none).failures.size(), 1U);
  EXPECT_FALSE(finding(none, "depth").band);
}

TEST(Spread, StoppedLeavesNoBands) {
  const Case c = dome_case(1e5, 2.0, 1.5);
  int asked = 0;
  const auto stops = [&](const Case& other) {
    CaseResult r = by_formula(other);
    if (++asked == 4) r.ending = Ending::kStopped;
    return r;
  };
  CaseResult r = by_formula(c);
  const SpreadReport report = add_spread(c, all_of(stops), kSilent, r);
  EXPECT_TRUE(report.stopped);
  EXPECT_EQ(asked, 4);
  EXPECT_EQ(report.side_runs, 3);
  for (const checks::Finding& f : r.findings) EXPECT_FALSE(f.band);
}

TEST(Spread, LargerElementsThatChangeTheAnswerAreTold) {
  const Case c = dome_case(1e5, 2.0, 1.5);
  const auto by_element = [](const Case& other) {
    CaseResult r;
    r.findings = {{"x", "", 1e3 * other.sheet.element_m, "mm"}};
    return r;
  };
  CaseResult r = by_element(c);
  const SpreadReport report = add_spread(c, all_of(by_element), kSilent, r);
  EXPECT_NEAR(1e3 * report.element_m, 1.5 * 1.25, 1e-12);
  ASSERT_EQ(report.remarks.size(), 1U);
  EXPECT_NE(report.remarks[0].find("rough"), std::string::npos);
  // Off by more than half of the answer, they say nothing of it.
  const auto steep = [](const Case& other) {
    CaseResult s;
    s.findings = {{"x", "", std::pow(1e3 * other.sheet.element_m, 2), "mm"}};
    return s;
  };
  CaseResult wild = steep(c);
  EXPECT_NE(add_spread(c, all_of(steep), kSilent, wild).remarks.at(0).find("no band"), std::string::npos);
  EXPECT_FALSE(wild.findings[0].band);
  // So too of a limit, which the stiffness moves here.
  const auto steep_limit = [](const Case& other) {
    CaseResult s;
    s.findings = {{"x", "", 1.0, "mm"}};
    s.findings[0].limit =
        std::pow(1e3 * other.sheet.element_m, 2) * sheet::small_strain_shear_modulus_Pa(other.sheet.law);
    return s;
  };
  CaseResult limited = steep_limit(c);
  const SpreadReport of_limit = add_spread(c, all_of(steep_limit), kSilent, limited);
  ASSERT_EQ(of_limit.remarks.size(), 1U);
  EXPECT_NE(of_limit.remarks[0].find("limit"), std::string::npos) << of_limit.remarks[0];
  EXPECT_FALSE(limited.findings[0].limit_band);
}

TEST(Spread, AnswersThatASideRunLosesAreTold) {
  const Case c = dome_case(1e5, 2.0, 1.5);
  const auto loses = [](const Case& other) {
    CaseResult r = by_formula(other);
    if (other.sheet.thickness_m > 1.05 * kGauge_m) r.findings[1].value = std::nan("");
    return r;
  };
  CaseResult r = loses(c);
  const SpreadReport report = add_spread(c, all_of(loses), kSilent, r);
  ASSERT_EQ(report.remarks.size(), 1U);
  EXPECT_NE(report.remarks[0].find("thinnest_wall: no answer with gauge of the sheet"), std::string::npos);
  ASSERT_TRUE(finding(r, "thinnest_wall").band);
  EXPECT_NEAR(finding(r, "thinnest_wall").band->low, 0.36, 1e-12);
  EXPECT_EQ(finding(r, "thinnest_wall").band->high, 0.4);
}

// Numbers go where they are used, all of them and no others.
TEST(SpreadNumbers, ChangeWhatTheySay) {
  Case c = dome_case(1e5, 2.0, 1.5);
  c.sheet.polymer = "petg";
  c.mould = MouldSpec{.platform = true, .friction = {.stick = true, .coefficient = 0.0}};
  HeatSpec heat{};
  heat.start_K = 410.0, heat.mould_K = 300.0, heat.set_K = 350.0;
  heat.heater.cold_rim_m = 5e-3, heat.heater.clamp_K = 360.0;
  c.heat = heat;
  c.mould->build = MouldBuild{};
  c.mould->build->start_K = 301.0;
  c.sheet.sags = true, c.sheet.expansion = 0.012;
  imprint::ReliefSpec relief;
  relief.state = imprint::GivenState{.thickness_m = 1e-3, .shear_modulus_Pa = 1e6, .pressure_Pa = 2e5};
  c.reliefs = {relief};
  const std::vector<Unsure> numbers = unsure_numbers(c);
  const auto of = [&](const std::string& name) {
    return *std::find_if(numbers.begin(), numbers.end(), [&](const Unsure& u) { return u.name == name; });
  };
  ASSERT_EQ(numbers.size(), 11U);
  const Unsure stiff = of("stiffness of the hot sheet");
  EXPECT_DOUBLE_EQ(sheet::small_strain_shear_modulus_Pa(stiff.at_high->sheet.law), 0.6e6);
  EXPECT_DOUBLE_EQ(stiff.at_low->reliefs[0].state->shear_modulus_Pa, 1e6 / 1.5);
  EXPECT_DOUBLE_EQ(stiff.at_low->sheet.thickness_m, kGauge_m);
  const Unsure warm = of("temperature of the sheet");  // no law of heat here: by half in 15 K
  EXPECT_DOUBLE_EQ(warm.at_high->heat->start_K, 415.0);
  EXPECT_DOUBLE_EQ(warm.at_high->heat->heater.map_shift_K, 5.0) << "what a map says is warmer too";
  EXPECT_DOUBLE_EQ(warm.at_low->heat->heater.clamp_K, 355.0);
  EXPECT_NEAR(sheet::small_strain_shear_modulus_Pa(warm.at_high->sheet.law), kG_Pa * std::exp2(-1.0 / 3.0), 1.0);
  EXPECT_DOUBLE_EQ(of("gauge of the sheet").at_low->reliefs[0].state->thickness_m, 0.9e-3);
  EXPECT_DOUBLE_EQ(std::get<PressureDrive>(of("pressure").at_high->stages[0].drive).pressure_Pa, 1.1e5);
  const Unsure friction = of("friction on the mould");
  EXPECT_FALSE(friction.at_high) << "it sticks already";
  EXPECT_FALSE(friction.at_low->mould->friction.stick);
  EXPECT_DOUBLE_EQ(of("heat passed to the mould where they touch").at_high->heat->contact_W_m2K, 3000.0);
  EXPECT_DOUBLE_EQ(of("heat passed to the gas").at_low->heat->gas_film_W_m2K, 20.0);
  EXPECT_DOUBLE_EQ(of("heat passed to still air").at_low->heat->still_film_W_m2K, 5.0);
  EXPECT_DOUBLE_EQ(of("heat passed to still air").at_high->heat->still_film_W_m2K, 15.0);
  const Unsure mould = of("temperature of the mould");
  EXPECT_DOUBLE_EQ(mould.at_low->heat->mould_K, 290.0);
  EXPECT_DOUBLE_EQ(mould.at_low->mould->build->start_K, 291.0) << "its body with it";
  EXPECT_DOUBLE_EQ(mould.at_high->mould->build->start_K, 311.0);
  EXPECT_DOUBLE_EQ(of("expansion of the hot sheet").at_low->sheet.expansion, 0.008);
  EXPECT_DOUBLE_EQ(of("expansion of the hot sheet").at_high->sheet.expansion, 0.018);
  EXPECT_DOUBLE_EQ(of("set temperature").at_high->heat->set_K, 355.0);
  // A law without a band is taken as known within a factor of 1.5, and rubber without a card knows no temperature.
  Case plain = dome_case(1e5, 2.0, 1.5);
  plain.sheet.shear_modulus_Pa.reset();
  ASSERT_EQ(unsure_numbers(plain).size(), 3U);
  EXPECT_DOUBLE_EQ(sheet::small_strain_shear_modulus_Pa(unsure_numbers(plain)[0].at_low->sheet.law), 0.2e6);
}

// What cools the part after the last stage is one of the numbers, whatever it is.
TEST(SpreadNumbers, MoveTheFilmThatCoolsThePart) {
  for (const Cooling cooling : {Cooling::kGas, Cooling::kAir, Cooling::kFan}) {
    Case c = dome_case(1e5, 2.0, 1.5);
    c.heat = HeatSpec{};
    c.heat->cooling = cooling;
    double least = 1e9, most = 0.0;
    int films = 0;
    for (const Unsure& number : unsure_numbers(c)) {
      if (!number.name.starts_with("heat passed to")) continue;
      ++films;
      for (const Case& end : {*number.at_low, *number.at_high}) {
        const double film_W_m2K = end.heat->free_side_after().film_W_m2K;
        least = std::min(least, film_W_m2K), most = std::max(most, film_W_m2K);
      }
    }
    const Estimate& band = cooling == Cooling::kGas   ? kGasFilm_W_m2K
                           : cooling == Cooling::kAir ? kStillFilm_W_m2K
                                                      : kFanFilm_W_m2K;
    EXPECT_EQ(least, band.low);
    EXPECT_EQ(most, band.high);
    EXPECT_EQ(films, cooling == Cooling::kFan ? 4 : 3) << "a fan counts where there is one";
  }
}

// A flat sheet that does not hang starts as bought, whatever it would grow by.
TEST(SpreadNumbers, LeaveExpansionOutWhereNothingSags) {
  Case c = dome_case(1e5, 2.0, 1.5);
  const std::size_t before = unsure_numbers(c).size();
  c.sheet.sags = true;
  EXPECT_EQ(unsure_numbers(c).size(), before) << "nothing to vary at 0";
  c.sheet.expansion = 0.01;
  EXPECT_EQ(unsure_numbers(c).size(), before + 1);
}

/// Stretch at the pole for a load, from the meridian: the branch below the limit load. Bisection to round-off.
double pole_stretch(double pressure_Pa, double G_Pa, double gauge_m) {
  const reference::ClampedDisc disc{reference::neo_hookean(G_Pa), kRadius_m, gauge_m};
  double low = 1.0001, high = 1.8;  // the limit lies near 2
  for (int i = 0; i < 60; ++i) {
    const double mid = 0.5 * (low + high);
    (reference::inflated_disc(disc, mid).pressure_Pa < pressure_Pa ? low : high) = mid;
  }
  return low;
}
/// At the pole both stretches are one: h = h0/l^2 [mm].
double pole_wall_mm(double pressure_Pa, double G_Pa, double gauge_m) {
  const double l = pole_stretch(pressure_Pa, G_Pa, gauge_m);
  return 1e3 * gauge_m / (l * l);
}

// A dome formed again and again, against the meridian of a round sheet, which shares no code with the solver. The load
// is that of stretch 1.2 at the pole, P a/(G h0) = 0.9993; the soft end that of 1.5, 1.6436 (own ODE, printed in
// tests/data/ref_circular_membrane_inflation.csv). Tolerance 0.01 mm of a band of 0.3 mm: a disc of eleven elements on
// the radius is off by 0.3 % of the wall, and differences of two such runs by less.
TEST(Spread, OfAFreeDomeIsThatOfItsMeridian) {
  const double p_Pa = 0.9993 * kG_Pa * kGauge_m / kRadius_m, soft = 1.6436 / 0.9993, stiff = 1.5;
  const Case c = dome_case(p_Pa, stiff, soft);
  const Geometry none;
  CaseResult r = run(c, none, {});
  const SpreadReport report = add_spread(
      c,
      [&](const Case& other, Anew anew, const forming::Snapshot& formed) {
        return answer_again(other, none, anew, formed, {});
      },
      kSilent, r);
  EXPECT_TRUE(report.failures.empty());
  const checks::Finding& wall = finding(r, "thinnest_wall");
  ASSERT_TRUE(wall.band);
  const double likely = pole_wall_mm(p_Pa, kG_Pa, kGauge_m);
  ASSERT_NEAR(likely, 1.0 / 1.44, 1e-3);
  ASSERT_NEAR(pole_wall_mm(p_Pa, kG_Pa / soft, kGauge_m), 1.0 / 2.25, 1e-3);
  const auto off = [&](double p, double G, double gauge) { return pole_wall_mm(p, G, gauge) - likely; };
  const double down =
      std::hypot(off(p_Pa, kG_Pa / soft, kGauge_m), off(p_Pa, kG_Pa, 0.9 * kGauge_m), off(1.1 * p_Pa, kG_Pa, kGauge_m));
  const double up = std::hypot(off(p_Pa, kG_Pa * stiff, kGauge_m), off(p_Pa, kG_Pa, 1.1 * kGauge_m),
                               off(0.9 * p_Pa, kG_Pa, kGauge_m));
  constexpr double kAllowed_mm = 0.01;
  EXPECT_NEAR(wall.band->low, likely - down, kAllowed_mm);
  EXPECT_NEAR(wall.band->high, likely + up, kAllowed_mm);
  EXPECT_EQ(wall.band->moved_by, "stiffness of the hot sheet");
  RecordProperty("low_um", static_cast<int>(1e3 * wall.band->low));
  RecordProperty("high_um", static_cast<int>(1e3 * wall.band->high));
}

}  // namespace
}  // namespace pellicle
