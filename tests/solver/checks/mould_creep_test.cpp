// Do creep and heat shock turn where they should, and are their formulas those of the books?
#include "solver/checks/mould_creep.h"

#include "tests/solver/checks/printed.h"

#include <gtest/gtest.h>

#include <cmath>

namespace pellicle::checks {
namespace {

constexpr double kCelsius = 273.15;
const MouldStop kNever = [] { return false; };

// A test of minutes leads by nothing; ten times as long, by 5 K (3 to 10).
TEST(MouldCreep, LeadsByKelvinsATenfoldTime) {
  EXPECT_EQ(creep_lead_K(60.0).high, 0.0);
  EXPECT_NEAR(creep_lead_K(1500.0).likely, 5.0, 1e-9);
  EXPECT_NEAR(creep_lead_K(1500.0).low, 3.0, 1e-9);
  EXPECT_NEAR(creep_lead_K(150e3).high, 30.0, 1e-9);
}

// One mould, one pace: how many parts it is to make decides. The resin gives way some kelvins above the peak of the
// shell in a test: 4 K of lead for one part, 50 K for a million.
TEST(MouldCreep, TheNumberOfPartsDecides) {
  const Draped d = printed_box(0.020, 0.020, 0.010, 4e5);
  MouldBuild build = printed(2e-3);
  build.open_s = 120.0;
  const MouldWarmth warmth(d.formed(), build, kNever);
  const double peak_K = warmth.shell_peak_K();
  EXPECT_GT(peak_K, warmth.shell_K());
  EXPECT_GT(warmth.shell_K(), build.start_K);
  build.resin.deflects_at_045_K = {peak_K + 13.0, peak_K + 12.0, peak_K + 14.0};
  build.resin.deflects_at_180_K = {peak_K + 3.0, peak_K + 2.0, peak_K + 4.0};
  const auto of = [&](int parts) {
    build.parts = parts;
    return mould_creep(&warmth, build, 0.45e6);
  };
  const Finding few = of(10), some = of(100), many = of(10000);  // 300 s, 3000 s, 300 ks: 1.5, 6.5, 16.5 K of 13
  EXPECT_EQ(few.verdict, Verdict::kPass) << few.why;
  EXPECT_EQ(some.verdict, Verdict::kDoubt) << some.why;
  EXPECT_EQ(many.verdict, Verdict::kFail) << many.why;
  EXPECT_NEAR(*some.limit, peak_K - kCelsius + 13.0 - 5.0 * std::log10(20.0), 1e-9);
  EXPECT_NE(many.advice.find("every tenth"), std::string::npos);
  build.parts = 10;
  EXPECT_EQ(mould_creep(&warmth, build, 0.0).verdict, Verdict::kDoubt) << "a stress nobody knows is no pass";
  EXPECT_TRUE(std::isnan(mould_creep(nullptr, build, 0.45e6).value));
  EXPECT_EQ(mould_creep(nullptr, build, 0.45e6).verdict, Verdict::kDoubt);
}

// E alpha dT/(1 - nu) of a plate held all round.
TEST(MouldShock, IsThatOfAHeldSkin) { EXPECT_NEAR(skin_stress_Pa(2e9, 100e-6, 50.0, 0.36), 15.625e6, 1e-3); }

// Standard resin at 23 degrees C under PETG: effusivities 668 and 709 (mould_temperature_test.cpp), so the skin is
// warmed by 0.515 of the difference. Strength keeps its strain, so its share is E0 alpha dT/((1 - nu) S0) at any
// temperature of the sheet; hotter sheet decides.
TEST(MouldShock, TheSheetsTemperatureDecides) {
  Draped d = printed_box(0.020, 0.020, 0.010, 4e5);
  const MouldBuild build = printed(2e-3);
  const auto of = [&](double sheet_C) {
    d.spec.temperature_K = kCelsius + sheet_C;
    return mould_shock(d.formed(), build);
  };
  const Finding warm = of(120.0), hot = of(200.0), scorching = of(280.0);
  EXPECT_EQ(warm.verdict, Verdict::kPass) << warm.uncertainty;
  EXPECT_EQ(hot.verdict, Verdict::kDoubt) << hot.uncertainty;
  EXPECT_EQ(scorching.verdict, Verdict::kFail) << scorching.why;
  const double rise_K = 709.4 / (709.4 + 667.9) * (200.0 - 23.0);
  const double share = 2.4e9 * 100e-6 * rise_K / 0.63 / 95e6;
  EXPECT_NEAR(hot.value / *hot.limit, share / 0.5, 0.002 * share);  // effusivities to four digits
  MouldBuild no_card = build;
  no_card.polymer.reset();
  EXPECT_TRUE(std::isnan(mould_shock(d.formed(), no_card).value));
  MouldBuild warmed = build;
  warmed.start_K = kCelsius + 60.0;
  EXPECT_LT(mould_shock(d.formed(), warmed).value / *mould_shock(d.formed(), warmed).limit,
            scorching.value / *scorching.limit);
}

}  // namespace
}  // namespace pellicle::checks
