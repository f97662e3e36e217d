// Does the mould warm as many parts warm it, and does the finding turn where it should?
#include "solver/checks/mould_temperature.h"

#include "tests/solver/checks/printed.h"

#include <gtest/gtest.h>

#include <cmath>

namespace pellicle::checks {
namespace {

constexpr double kCelsius = 273.15;
const MouldStop kNever = [] { return false; };

/// Between a standard and a high-temperature resin.
MouldBuild middling(double open_s) {
  MouldBuild build = printed(2e-3);
  build.resin.deflects_at_045_K = {kCelsius + 112.0, kCelsius + 108.0, kCelsius + 116.0};
  build.resin.deflects_at_180_K = {kCelsius + 100.0, kCelsius + 96.0, kCelsius + 104.0};
  build.open_s = open_s;
  return build;
}

TEST(MouldTemperature, TimeOpenDecides) {
  const Draped d = printed_box(0.024, 0.024, 0.010, 4e5);
  const auto of = [&](double hold_s, double open_s) {
    MouldBuild build = middling(open_s);
    build.hold_s = hold_s;
    return mould_temperature(MouldWarmth(d.formed(), build, kNever), d.formed(), build, 0.45e6);
  };
  const Finding slow = of(5.0, 600.0), quick = of(5.0, 30.0), hasty = of(5.0, 0.5);
  EXPECT_EQ(slow.verdict, Verdict::kPass) << slow.why;
  EXPECT_EQ(quick.verdict, Verdict::kDoubt) << quick.why;
  EXPECT_EQ(hasty.verdict, Verdict::kFail) << hasty.why;
  EXPECT_NEAR(*slow.limit, 112.0, 1e-9);
  EXPECT_LT(slow.value, quick.value);
  EXPECT_NE(hasty.why.find("parts an hour"), std::string::npos) << hasty.why;
}

// Beyond 1.80 MPa the limit is led on from the card, and a miss of it is no proof; nor is a pass one, of a stress that
// nobody knows.
TEST(MouldTemperature, WhatTheCardDoesNotTellIsInDoubt) {
  const Draped d = printed_box(0.024, 0.024, 0.010, 4e5);
  const auto opened = [](double open_s) {
    MouldBuild build = middling(open_s);
    build.hold_s = 5.0;
    return build;
  };
  const MouldBuild quick = opened(30.0), slow = opened(600.0);
  const MouldWarmth warm(d.formed(), quick, kNever), cool(d.formed(), slow, kNever);
  const Finding led_on = mould_temperature(warm, d.formed(), quick, 10e6);
  EXPECT_LT(*led_on.limit, led_on.value);
  EXPECT_LT(led_on.value, 100.0);  // the card's at 1.80 MPa
  EXPECT_EQ(led_on.verdict, Verdict::kDoubt);
  EXPECT_NE(led_on.uncertainty.find("beyond the card's 1.80 MPa"), std::string::npos) << led_on.uncertainty;
  MouldBuild soft = quick;  // its temperature at 1.80 MPa is passed too
  soft.resin = standard_resin();
  EXPECT_EQ(mould_temperature(warm, d.formed(), soft, 10e6).verdict, Verdict::kFail);
  const Finding unknown = mould_temperature(cool, d.formed(), slow, 0.0);
  EXPECT_EQ(unknown.verdict, Verdict::kDoubt);
  EXPECT_NE(unknown.advice.find("mould_stress"), std::string::npos) << unknown.advice;
  const Finding known = mould_temperature(cool, d.formed(), slow, 0.45e6);
  EXPECT_EQ(known.verdict, Verdict::kPass);
  EXPECT_EQ(known.uncertainty.find("beyond the card's"), std::string::npos);
}

// A mould that cools half as well as foretold: 100 K less 5 a decade of time, where 10 were foretold. The correction
// halves what is missing with each try: 7.5, 3.75, 1.9, 0.9 K of a limit of 85 K, of which a kelvin is near enough.
TEST(MouldTemperature, APaceIsFollowedBeforeItIsTold) {
  int followed = 0;
  const auto foretold_K = [](double s) { return 100.0 - 10.0 * std::log10(s); };
  const auto followed_K = [&](double s) { return ++followed, 100.0 - 5.0 * std::log10(s); };
  const std::optional<Pace> found = quickest_pace(foretold_K, followed_K, 85.0);
  ASSERT_TRUE(found);
  EXPECT_EQ(followed, 4);
  EXPECT_EQ(found->shell_K, 100.0 - 5.0 * std::log10(found->open_s));
  EXPECT_TRUE(found->keeps(85.0));
  EXPECT_LE(found->shell_K, 86.0);
  const std::optional<Pace> missed = quickest_pace(foretold_K, followed_K, 83.0);  // 8.5, 4.3, 2.1, 1.06 K
  ASSERT_TRUE(missed);
  EXPECT_FALSE(missed->keeps(83.0));
  EXPECT_FALSE(quickest_pace(foretold_K, followed_K, 60.0));  // an hour: 64 K
}

// The fiftieth part, led on from the first five, against fifty parts one by one.
TEST(MouldTemperature, TheFiftiethPartIsWhatFiftyPartsLeadTo) {
  const Draped d = printed_box(0.016, 0.016, 0.008, 4e5);
  MouldBuild build = middling(20.0);
  build.inside = mesh::Inside::kFilled;
  const MouldWarmth warmth(d.formed(), build, kNever);
  const MouldWarmth::Part first = warmth.first(), fiftieth = warmth.fiftieth(), led = warmth.followed(50);
  EXPECT_EQ(first.mean_K, warmth.followed(1).mean_K);
  EXPECT_GT(fiftieth.mean_K, first.mean_K + 5.0);
  EXPECT_NEAR(fiftieth.mean_K, led.mean_K, 0.3);  // the periodic state is settled to 0.1 K, and as much still to come
  EXPECT_NEAR(fiftieth.hottest_K, led.hottest_K, 0.3);
}

// Later sheets find the mould warmer, and no warmer than the long series.
TEST(MouldTemperature, TheNextSheetFindsItWarmer) {
  const Draped d = printed_box(0.016, 0.016, 0.008, 4e5);
  const MouldBuild build = middling(20.0);
  const MouldWarmth warmth(d.formed(), build, kNever);
  EXPECT_EQ(warmth.met_K(1), build.start_K);
  EXPECT_GT(warmth.met_K(2), build.start_K + 1.0);
  EXPECT_GT(warmth.met_K(50), warmth.met_K(2));
  EXPECT_NEAR(warmth.met_K(50), warmth.met_K(1000), 0.3);  // settled to 0.1 K, as much to come, and led on
  double hottest_K = 0.0;
  for (const double peak_K : warmth.surface_K()) hottest_K = std::fmax(hottest_K, peak_K);
  EXPECT_LT(warmth.met_K(50), hottest_K);
}

// The pace foretold for the same resin is that of its own averaged exchange; what gives way sooner is used more slowly,
// and what conducts better stays cooler. Every card is told.
TEST(MouldTemperature, EveryCardHasItsPace) {
  const Draped d = printed_box(0.020, 0.020, 0.010, 4e5);
  MouldBuild build = middling(60.0);
  const MouldWarmth warmth(d.formed(), build, kNever);
  const double limit_K = warmth.shell_K() - 3.0;
  const auto foretold_K = [&](double s) { return warmth.shell_K_with(s); };
  const auto own = warmth.foretold_open_s(build.resin, limit_K);
  ASSERT_TRUE(own);
  EXPECT_NEAR(*own, quickest_pace(foretold_K, foretold_K, limit_K)->open_s, 1e-6 * *own);
  EXPECT_GT(*warmth.foretold_open_s(build.resin, limit_K - 3.0), *own);
  EXPECT_FALSE(warmth.foretold_open_s(build.resin, build.start_K - 5.0)) << "colder than the bench";
  ResinSpec metal = build.resin;
  metal.conductivity_W_mK = {200.0, 200.0, 200.0};
  EXPECT_NE(*warmth.foretold_open_s(metal, limit_K), *own);
  EXPECT_EQ(mould_temperature(warmth, d.formed(), build, 0.45e6).why.find("each card"), std::string::npos);
  build.cards = {standard_resin(), build.resin};
  const std::string why = mould_temperature(warmth, d.formed(), build, 0.45e6).why;
  EXPECT_NE(why.find("of each card's resin, foretold: standard "), std::string::npos) << why;
  MouldBuild filled = build;
  filled.inside = mesh::Inside::kFilled;
  EXPECT_NE(plaster_heat_text(warmth, MouldWarmth(d.formed(), filled, kNever)).find("cooler"), std::string::npos);
}

// What the sheet has lost when the stages end the mould has got in them: no heat is forgotten, and none counted twice.
TEST(MouldTemperature, HeatOfTheStagesCountsWhereItWasFollowed) {
  Draped d = printed_box(0.016, 0.016, 0.008, 4e5);
  const MouldBuild build = middling(60.0);
  const double alone_K = MouldWarmth(d.formed(), build, kNever).shell_K();
  const auto followed_K = [&](double mean_C) {
    d.sheet.heat.emplace();
    d.sheet.temperature_mean_K.assign(d.sheet.points_m.size(), kCelsius + mean_C);
    return MouldWarmth(d.formed(), build, kNever).shell_K();
  };
  const double hot_K = followed_K(140.0), cooled_K = followed_K(110.0);
  EXPECT_NEAR(hot_K, alone_K, 1.0);  // a second of 31 s without the sheet's film
  // Of 30 K of 140 - 23 all goes into the mould at once, where by and by some had gone to the gas: a little warmer.
  EXPECT_GT(cooled_K, hot_K - 0.5);
  EXPECT_LT(cooled_K, hot_K + 5.0);
}

// What the averaged exchange says of another pace, led from the one that was followed, against following it.
TEST(MouldTemperature, AnotherPaceIsForetoldByTheAveragedExchange) {
  const Draped d = printed_box(0.024, 0.024, 0.010, 4e5);
  const MouldBuild build = middling(60.0);
  const MouldWarmth warmth(d.formed(), build, kNever);
  EXPECT_NEAR(warmth.shell_K_with(60.0), warmth.shell_K(), 1e-9);
  const double foretold_K = warmth.shell_K_with(120.0), followed_K = warmth.followed_shell_K(120.0);
  EXPECT_LT(followed_K, warmth.shell_K() - 3.0);
  EXPECT_NEAR(foretold_K, followed_K, 0.25 * (warmth.shell_K() - followed_K));  // it is a start for a search
}

// Under the sheet alone, and never open, all ends between air and sheet; a surface under it is hotter than one beside.
TEST(MouldTemperature, SurfaceIsHottestUnderTheSheet) {
  Draped d = printed_box(0.024, 0.024, 0.010, 4e5);
  for (std::size_t i = 0; i < d.sheet.points_m.size(); ++i) d.sheet.touching[i] = d.sheet.points_m[i].z() > 0.005;
  const MouldBuild build = middling(60.0);
  const MouldWarmth warmth(d.formed(), build, kNever);
  const mesh::TriangleMesh& m = d.mould.surface()->mesh();
  int lids = 0, sides = 0, floors = 0;
  double lid_C = 0.0;
  for (const double peak_K : warmth.surface_K()) lid_C = std::fmax(lid_C, peak_K - kCelsius);
  // The first moment: e = sqrt(0.22 * 1270 * 1800) = 709 and sqrt(0.27 * 1180 * 1400) = 668 W s^0.5/m2K, so 82.4
  // degrees C at least on a mould of 23; the sheet is 140.
  for (std::size_t t = 0; t < m.triangles.size(); ++t) {
    double low_m = 1.0, high_m = 0.0;
    for (const int p : m.triangles[t]) {
      low_m = std::min(low_m, m.points_m[static_cast<std::size_t>(p)].z());
      high_m = std::max(high_m, m.points_m[static_cast<std::size_t>(p)].z());
    }
    const double peak_C = warmth.surface_K()[t] - kCelsius;
    if (high_m == 0.0) {
      EXPECT_TRUE(std::isnan(peak_C));
      ++floors;
    } else if (low_m > 0.0) {
      EXPECT_GT(peak_C, 82.4);
      EXPECT_LT(peak_C, 140.0);
      ++lids;
    } else {
      EXPECT_LE(peak_C, lid_C);  // which it shares the edge with
      EXPECT_GT(peak_C, 23.0);
      ++sides;
    }
  }
  EXPECT_EQ(floors, 2);
  EXPECT_EQ(lids, 2);
  EXPECT_EQ(sides, 8);
  EXPECT_GT(warmth.peak_K({0.012, 0.012, 0.0095}), warmth.shell_K());
}

}  // namespace
}  // namespace pellicle::checks
