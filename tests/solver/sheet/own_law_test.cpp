// Does a modulus that the user gives keep its meaning beside a card's glass?
#include "solver/sheet/own_law.h"

#include <gtest/gtest.h>

#include <cmath>

namespace pellicle::sheet {
namespace {

constexpr double kGlass_K = 353.15, kGlass_Pa = 0.75e9, kOwn_Pa = 0.3e6;

/// Universal WLF constants at a glass transition of 80 °C; a glass of 100 s there.
HotLaw card() {
  HotLaw law{{0.2e6}, {}};
  Relaxation& r = law.relaxation;
  r.shift = {kGlass_K, 17.4, 51.6, kGlass_K, smooth_activation_J_mol(kGlass_K, 17.4, 51.6, kGlass_K)};
  r.modes = {{0.25e6, 1.0 / r.shift.factor(403.15)}, {kGlass_Pa, 100.0}};
  r.network_reference_K = 403.15, r.network_entropic_share = 1.0;
  return law;
}

/// Far above the transition the glass has nothing to say, and the law is the card's times a factor.
TEST(OwnLaw, FarAboveTheGlassIsTheCardScaled) {
  const OwnLaw own = own_law(card(), kOwn_Pa, 413.15);
  EXPECT_EQ(own.glass_faster, 1.0);
  EXPECT_NEAR(modulus_after_Pa(own.law, 413.15, kFormingTime_s), kOwn_Pa, 1e-9 * kOwn_Pa);
  EXPECT_EQ(own.law.relaxation.modes.back().time_s, 100.0);
  EXPECT_NEAR(own.law.network.shear_modulus_Pa / own.law.relaxation.modes.front().modulus_Pa, 0.2 / 0.25, 1e-12);
}

/// At 85 °C the card's glass alone would resist with a hundred times the modulus that the user gives.
TEST(OwnLaw, NearTheGlassTheUsersModulusStands) {
  const double at_K = 358.15;
  EXPECT_GT(modulus_after_Pa(card(), at_K, kFormingTime_s), 100.0 * kOwn_Pa);
  const OwnLaw own = own_law(card(), kOwn_Pa, at_K);
  EXPECT_GT(own.glass_Pa, 100.0 * kOwn_Pa);
  EXPECT_GT(own.glass_faster, 100.0);
  EXPECT_NEAR(modulus_after_Pa(own.law, at_K, kFormingTime_s), kOwn_Pa, 1e-9 * kOwn_Pa);
  // Stretched evenly for that time the glass adds what it may, and so does the cap 20 times what the user gave.
  const RelaxationMode& glass = own.law.relaxation.modes.back();
  EXPECT_NEAR(resistance_Pa(glass, own.law.relaxation.shift.factor(at_K), kFormingTime_s), kMostGlass * kOwn_Pa,
              1e-6 * kOwn_Pa);
  const HotLaw forming = capped(own.law, at_K);
  EXPECT_NEAR(forming.network.shear_modulus_Pa + forming.relaxation.modes[0].modulus_Pa +
                  forming.relaxation.modes[1].modulus_Pa,
              kMostStiffening * kOwn_Pa, 1e-6 * kOwn_Pa);
  // ... and cold it is glass all the same.
  EXPECT_EQ(glass.modulus_Pa, kGlass_Pa);
  EXPECT_GT(modulus_after_Pa(own.law, 313.15, kFormingTime_s), 0.9 * kGlass_Pa);
}

/// No jump where the glass begins to count: the time is shortened from 1 on.
TEST(OwnLaw, GlassIsShortenedWithoutAJump) {
  double before = 1.0;
  int shortened = 0;
  for (double at_K = 413.15; at_K > 355.0; at_K -= 0.5) {
    const double now = own_law(card(), kOwn_Pa, at_K).glass_faster;
    EXPECT_LT(now, 1.8 * before) << at_K;  // half a kelvin of WLF at its steepest is a factor 1.5
    EXPECT_GE(now, before) << at_K;
    if (now > 1.0) ++shortened;
    before = now;
  }
  EXPECT_GT(shortened, 20);
}

/// g tau/t (1 - e^(-t/tau)) is the mean of g e^(-s/tau) over the time: by Simpson's rule, exact to 1e-8 in 200 steps.
TEST(OwnLaw, ResistanceIsTheMeanRelaxationModulus) {
  const RelaxationMode mode{2e6, 0.4};
  double sum = 0.0;
  for (int i = 0; i <= 200; ++i)
    sum += (i == 0 || i == 200 ? 1.0 : i % 2 == 1 ? 4.0 : 2.0) * 2e6 * std::exp(-i / 200.0 / (0.4 * 1.5));
  EXPECT_NEAR(resistance_Pa(mode, 1.5, 1.0) / (sum / 600.0), 1.0, 1e-7);
}

}  // namespace
}  // namespace pellicle::sheet
