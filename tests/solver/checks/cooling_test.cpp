// Is the time until every wall has set that of the closed form, at the right place, and is it said where there is none?
#include "solver/checks/cooling.h"

#include "solver/reference/heat.h"
#include "solver/sheet/heat_layers.h"

#include <fmt/core.h>
#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <string>

namespace pellicle::checks {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

HeatSpec hips() {
  HeatSpec heat{};
  heat.polymer = {0.165, 1800.0, 1040.0};
  heat.start_K = 413.15, heat.mould_K = 298.15, heat.mould_effusivity_Ws05_m2K = 668.0;
  heat.set_K = 358.15;
  return heat;
}

/// Some nodes in a row, just formed and hot all through, of these thicknesses.
struct Row {
  forming::FormingResult sheet;
  std::vector<char> in_part;
  imprint::Screening detail;
  SheetSpec spec{};
  mould::RigidMould nothing{{}, false};

  Row(const HeatSpec& heat, const std::vector<double>& thickness_m) {
    const int n = static_cast<int>(thickness_m.size());
    for (int i = 0; i < n; ++i) {
      sheet.flat_m.push_back({1e-3 * i, 0.0});
      sheet.points_m.push_back({1e-3 * i, 0.0, 2e-3});
    }
    sheet.thickness_m = thickness_m;
    sheet.bought_thickness_m = 1e-3;
    sheet.touched_s.assign(at(n), std::numeric_limits<double>::quiet_NaN());
    sheet.touching.assign(at(n), 0);
    sheet.temperature_mean_K.assign(at(n), heat.start_K);
    const sheet::FaceTemperatures start{heat.start_K, heat.start_K};
    sheet.heat = sheet::hot_sheet(
        heat.polymer, heat.cells, sheet.flat_m, 1e-3, [&](const mesh::Vec2&) { return start; }, heat.mould_K);
    for (int i = 0; i < n; ++i)  // stretched at once, before any heat went
      sheet.heat->thickness_m[at(i / sheet::kHeatLanes)][i % sheet::kHeatLanes] = thickness_m[at(i)];
    in_part.assign(at(n), 1);
  }
  Formed formed() const { return {sheet, detail, nothing, spec, in_part}; }
};

/// Films alike on both sides: half the sheet, insulated at its middle, which is what sets last.
double middle_sets_s(const HeatSpec& heat, double thickness_m, double film_W_m2K) {
  const double half_m = 0.5 * thickness_m, biot = film_W_m2K * half_m / heat.polymer.conductivity_W_mK;
  const double share = (heat.set_K - heat.gas_K) / (heat.start_K - heat.gas_K);
  double low = 1e-3, high = 1e3;  // Fourier numbers
  for (int k = 0; k < 60; ++k) {
    const double fourier = std::sqrt(low * high);
    (reference::slab_film(0.0, fourier, biot) > share ? low : high) = fourier;
  }
  return low * half_m * half_m / heat.polymer.diffusivity_m2_s();
}

TEST(Cooling, TheThickestPlaceInTheAirSetsLastAfterTheTimeOfTheSlab) {
  HeatSpec heat = hips();
  heat.still_film_W_m2K = heat.gas_film_W_m2K = 40.0;
  Row row(heat, {0.3e-3, 0.5e-3, 0.9e-3, 0.4e-3, 0.5e-3, 0.2e-3, 0.6e-3, 0.5e-3, 1.0e-3, 0.3e-3});
  Finding f = cooling(row.formed(), heat);
  EXPECT_EQ(f.id, "cooling");
  EXPECT_EQ(f.verdict, Verdict::kPass);
  ASSERT_TRUE(f.place_m);
  EXPECT_EQ(f.place_m->x(), 8e-3);
  const double expected_s = middle_sets_s(heat, 1e-3, 40.0);
  EXPECT_GT(expected_s, 5.0);
  // The hottest cell, up to 15 % of the thickness wide, is a little cooler than the very middle.
  EXPECT_NEAR(f.value / expected_s, 1.0, 0.01);
  row.in_part[8] = 0;  // waste
  f = cooling(row.formed(), heat);
  EXPECT_EQ(f.place_m->x(), 2e-3);
  EXPECT_NEAR(f.value / middle_sets_s(heat, 0.9e-3, 40.0), 1.0, 0.01);
}

TEST(Cooling, WhatLiesOnTheMouldSetsBeforeWhatSpans) {
  const HeatSpec heat = hips();
  Row row(heat, {0.8e-3, 0.8e-3, 0.6e-3});
  row.sheet.touching = {1, 1, 0};
  const Finding spans = cooling(row.formed(), heat);
  EXPECT_EQ(spans.place_m->x(), 2e-3);
  EXPECT_NE(spans.why.find("off the mould"), std::string::npos) << spans.why;
  row.sheet.touching = {1, 1, 1};
  const Finding lies = cooling(row.formed(), heat);
  EXPECT_EQ(lies.place_m->x(), 1e-3) << "the later of two alike";
  EXPECT_LT(lies.value, 0.8 * spans.value);
  EXPECT_NE(lies.why.find("on the mould"), std::string::npos) << lies.why;
}

TEST(Cooling, IsOverWhereAllHasSetAndSaysSoWhereNothingWill) {
  HeatSpec heat = hips();
  const Row row(heat, {0.8e-3, 0.5e-3});
  heat.set_K = 420.0;
  EXPECT_EQ(cooling(row.formed(), heat).value, 0.0);
  heat.set_K = heat.gas_K - 1.0;
  const Finding never = cooling(row.formed(), heat);
  EXPECT_TRUE(std::isnan(never.value));
  EXPECT_EQ(never.verdict, Verdict::kDoubt);
  EXPECT_FALSE(never.advice.empty());
}

TEST(Cooling, StillAirIsSlowerThanAFanAndAluminiumFasterThanResin) {
  HeatSpec heat = hips();
  Row row(heat, {0.8e-3, 0.5e-3});
  row.sheet.touching = {1, 1};
  row.sheet.touched_s = {0.0, 0.0};
  const auto told = [&](Cooling cooling) {
    heat.cooling = cooling;
    return checks::cooling(row.formed(), heat);
  };
  const Finding gas = told(Cooling::kGas), air = told(Cooling::kAir), fan = told(Cooling::kFan);
  EXPECT_EQ(fan.value, gas.value) << "the same film, docs/theory/heat.md";
  EXPECT_GT(air.value, 1.2 * fan.value);
  EXPECT_NE(gas.advice.find("in still air"), std::string::npos) << gas.advice;
  EXPECT_NE(air.advice.find(fmt::format("under a fan {:.1f} s", fan.value)), std::string::npos) << air.advice;
  EXPECT_NE(air.advice.find("on aluminium"), std::string::npos) << air.advice;
  EXPECT_NE(air.uncertainty.find("(5 to 15 W/m2K)"), std::string::npos) << air.uncertainty;
  EXPECT_NE(fan.uncertainty.find("(20 to 150 W/m2K)"), std::string::npos) << fan.uncertainty;
  // Hot all through when it touches at the end of the run: what metal would take is one march of the wall alone.
  HeatSpec metal = heat;
  metal.mould_effusivity_Ws05_m2K = 23400.0;
  metal.cooling = Cooling::kAir;
  sheet::HeatStep step{0.0, row.sheet.thickness_m, {}, {}, metal.contact_W_m2K, metal.free_side_after(), {}};
  const std::vector<double> long_s(2, 1e3), effusivity(2, 23400.0);
  step.contact_s = long_s, step.mould_effusivity_Ws05_m2K = effusivity;
  const double alone_s = sheet::cooling_time_s(sheet::cooling_wall(*row.sheet.heat, 0, step), metal.set_K, 600.0);
  EXPECT_NE(air.advice.find(fmt::format("on aluminium {:.1f} s", alone_s)), std::string::npos) << air.advice << alone_s;
}

/// On metal too a place starts as warm as it left the heater, which is not what the case says of the sheet as a whole.
TEST(Cooling, OnAluminiumAPlaceStartsAsWarmAsItWas) {
  HeatSpec warm = hips(), heat = hips();
  warm.start_K += 20.0;
  Row row(warm, {0.8e-3, 0.5e-3});
  row.sheet.touching = {1, 1};
  row.sheet.touched_s = {0.0, 0.0};
  const std::string by_place = cooling(row.formed(), heat).advice;
  EXPECT_NE(by_place.find("on aluminium"), std::string::npos) << by_place;
  EXPECT_EQ(by_place, cooling(row.formed(), warm).advice);
}

/// Beside each other, a thin wall on the mould and a thick one in the air are the last by turns.
TEST(Cooling, TheBandLooksAtBothKindsOfPlaces) {
  HeatSpec heat = hips();
  Row row(heat, {0.9e-3, 0.28e-3});
  row.sheet.touching = {1, 0};
  const Finding f = cooling(row.formed(), heat);
  const auto of = [&](double film, double contact, std::size_t i) {
    const std::vector<double> thickness(row.sheet.thickness_m), effusivity(2, heat.mould_effusivity_Ws05_m2K);
    const std::vector<double> contact_s{1e3, 0.0};
    const sheet::HeatStep step{0.0, thickness, contact_s, effusivity, contact, {film, heat.gas_K}, heat.open_side()};
    return sheet::cooling_time_s(sheet::cooling_wall(*row.sheet.heat, static_cast<int>(i), step), heat.set_K, 600.0);
  };
  ASSERT_GT(of(60.0, 1000.0, 0), of(60.0, 1000.0, 1)) << "likely: on the mould";
  ASSERT_LT(of(20.0, 500.0, 0), of(20.0, 500.0, 1)) << "slow: in the air";
  EXPECT_EQ(f.place_m->x(), 0.0);
  EXPECT_NE(f.uncertainty.find(fmt::format("to {:.0f} s for", of(20.0, 500.0, 1))), std::string::npos)
      << f.uncertainty << of(20.0, 500.0, 1);
}

TEST(Cooling, ThePartComesOffWhenItsLastWallHasSet) {
  const HeatSpec heat = hips();
  const Row row(heat, {0.8e-3, 0.5e-3, 0.3e-3});
  const std::vector<double> released = released_K(row.formed(), heat);
  ASSERT_EQ(released.size(), 3U);
  // In the air a wall is nearly even, Biot number 60 x 0.8e-3 / 0.165 = 0.3: its mean is some kelvin cooler than the
  // hottest cell, which is at the set temperature.
  EXPECT_LT(released[0], heat.set_K);
  EXPECT_GT(released[0], heat.set_K - 5.0);
  EXPECT_LT(released[1], released[0] - 5.0);
  EXPECT_LT(released[2], released[1] - 5.0);
  EXPECT_GT(released[2], heat.gas_K);
  HeatSpec never = heat;
  never.set_K = heat.gas_K - 1.0;
  EXPECT_NEAR(released_K(row.formed(), never)[0], heat.start_K, 1e-9) << "as the last stage leaves it";
}

TEST(Cooling, NoPartNoAnswer) {
  const HeatSpec heat = hips();
  Row row(heat, {0.8e-3, 0.5e-3});
  row.in_part.assign(2, 0);
  const Finding none = cooling(row.formed(), heat);
  EXPECT_TRUE(std::isnan(none.value));
  EXPECT_EQ(none.verdict, Verdict::kDoubt);
}

}  // namespace
}  // namespace pellicle::checks
