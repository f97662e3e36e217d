// Is what a relief loses to shut-in air told, with a scratch that would let it out, and left in doubt where leaks
// decide?
#include "solver/checks/hollow_air.h"

#include "solver/air/throat.h"
#include "solver/air/vent.h"

#include <gtest/gtest.h>

#include <cmath>

namespace pellicle::checks {
namespace {

constexpr double kPressure_Pa = 4e5;

/// A stroke of half the depth over its air, with the share it would have without.
imprint::ReliefAnswer answer(double share, double share_air_free) {
  imprint::ReliefAnswer a;
  a.state.pressure_Pa = kPressure_Pa;
  a.hollows.push_back({.place_m = {1e-3, 1e-3},
                       .volume_m3 = 0.4e-9,
                       .way_out_m = 1e-3,
                       .filled_free = 0.9,
                       .filled = 0.59,
                       .pressure_Pa = 1.5e5});
  imprint::StrokeAnswer s;
  s.name = "O";
  s.place_m = {1e-3, 1e-3};
  s.share = share;
  s.share_air_free = share_air_free;
  a.strokes.push_back(s);
  return a;
}

Finding failed() { return {.id = "relief_o", .question = "?", .value = 0.6, .unit = "-", .verdict = Verdict::kFail}; }

TEST(HollowAir, FailureByAirAloneIsInDoubtWithAWayOut) {
  Finding f = failed();
  tell_shut_air(answer(0.6, 0.95), 0.8, f);
  EXPECT_EQ(f.verdict, Verdict::kDoubt);
  EXPECT_NE(f.why.find("air shut in 1 closed hollow: O takes 0.60 of its depth instead of 0.95"), std::string::npos)
      << f.why;
  EXPECT_NE(f.advice.find("scratch"), std::string::npos) << f.advice;
}

TEST(HollowAir, FailureWithoutAirStaysOne) {
  Finding f = failed();
  f.advice = "a wider stroke";
  tell_shut_air(answer(0.4, 0.6), 0.8, f);
  EXPECT_EQ(f.verdict, Verdict::kFail);
  EXPECT_TRUE(f.advice.starts_with("a wider stroke; and let the air out")) << f.advice;
}

TEST(HollowAir, PassKeepsItsVerdictAndOpenReliefsSayNothing) {
  Finding f{.id = "relief_o", .question = "?", .value = 0.6, .unit = "-", .verdict = Verdict::kPass};
  tell_shut_air(answer(0.85, 0.95), 0.8, f);
  EXPECT_EQ(f.verdict, Verdict::kPass);
  EXPECT_TRUE(f.advice.empty());
  EXPECT_FALSE(f.why.empty());
  // In doubt for another reason, as a number outside its model's range: air is told, the advice stays.
  Finding doubt = f;
  doubt.verdict = Verdict::kDoubt, doubt.advice = "see the notes";
  tell_shut_air(answer(0.85, 0.95), 0.8, doubt);
  EXPECT_EQ(doubt.advice, "see the notes");
  // Deepest as without air: only the fill is told.
  Finding same{.id = "relief_o", .question = "?", .value = 1.0, .unit = "-", .verdict = Verdict::kPass};
  tell_shut_air(answer(1.0, 1.0), 0.8, same);
  EXPECT_NE(same.why.find("filled to 0.59 or more: no stroke is less deep"), std::string::npos) << same.why;
  imprint::ReliefAnswer open = answer(0.6, 0.95);
  open.hollows.clear();
  Finding g = failed();
  tell_shut_air(open, 0.8, g);
  EXPECT_TRUE(g.why.empty());
  EXPECT_EQ(g.verdict, Verdict::kFail);
}

// By hand: 0.4 mm^3 at 5 bar absolute hold 2.4e-9 kg. A square of side a and 1 mm long passes 0.4217 a^4 (p1^2 - p2^2)/
// (24 mu L R T); at the flow of the first moment all of it is out within 0.1 s at a = 9.6 um. The flow falls with the
// pressure: the integral of dp/(p^2 - p2^2) down to 1.05 p2 is (1/2 p2) ln((p - p2)/(p + p2)) between the ends. Doubled
// for the sheet that sinks in. Tolerance: mu to its three digits, the factor of a square, and side 1 : 1.001.
TEST(HollowAir, ScratchIsThatOfLaminarFlow) {
  const imprint::HollowAir h = answer(0.6, 0.9).hollows[0];
  const double p1 = kPressure_Pa + air::kAtmosphere_Pa, p2 = air::kAtmosphere_Pa;
  const double RT = air::kGasConstant_J_kgK * air::kRoom_K, kg = p1 * h.volume_m3 / RT;
  const double mu = 1.81e-5;  // of air at 20 degC (tables, from memory)
  const double a = std::pow(kg / 0.1 * 24.0 * mu * 1e-3 * RT / (0.4217 * (p1 * p1 - p2 * p2)), 0.25);
  EXPECT_NEAR(a, 9.6e-6, 0.1e-6);
  const auto log_of = [&](double p) { return std::log((p - p2) / (p + p2)); };
  const double slower = 0.5 / p2 * (log_of(p1) - log_of(1.05 * p2)) * (p1 * p1 - p2 * p2) / p1;
  const double by_hand = 2.0 * a * std::pow(slower, 0.25);
  EXPECT_NEAR(scratch_m(h, kPressure_Pa), by_hand, 0.01 * by_hand);
}

}  // namespace
}  // namespace pellicle::checks
