// Does a warm resin soften as its two deflection temperatures say?
#include "solver/checks/resin.h"

#include "tests/solver/checks/printed.h"

#include <gtest/gtest.h>

#include <cmath>

namespace pellicle::checks {
namespace {

constexpr double kCelsius = 273.15;

// By the definition of a deflection temperature: under the stress the bar bends by 0.2 % more than when cold.
TEST(Resin, ModulusAtTheCardsTemperaturesIsThatOfTheirDefinition) {
  const ResinSpec resin = standard_resin();
  for (const auto& [T_K, s] : {std::pair{resin.deflects_at_045_K, 0.45e6}, {resin.deflects_at_180_K, 1.80e6}})
    for (const End end : {End::kLow, End::kLikely, End::kHigh}) {
      const double E0 = end_of(resin.modulus_Pa, end), E = modulus_Pa(resin, end_of(T_K, end), end);
      EXPECT_NEAR(s / E - s / E0, 0.002, 1e-12);
      EXPECT_NEAR(deflection_temperature_K(resin, s, end), end_of(T_K, end), 1e-9);
    }
  EXPECT_NEAR(modulus_Pa(resin, 250.0), resin.modulus_Pa.likely, 1.0);  // through a logarithm and back
  EXPECT_NEAR(strength_Pa(resin, kRoom_K), resin.strength_Pa.likely, 1.0);
  // By hand: 2.4 GPa to 1.8/(0.002 + 0.00075) = 654.5 MPa between 23 and 55 degrees C, half way their geometric mean.
  EXPECT_NEAR(modulus_Pa(resin, kCelsius + 39.0), 1e6 * std::sqrt(2400.0 * 1.8 / 0.00275), 1.0);
}

TEST(Resin, FallsWithTemperatureAndGivesWayEarlierUnderMoreStress) {
  const ResinSpec resin = standard_resin();
  double before = modulus_Pa(resin, kRoom_K);
  int falls = 0;
  for (double T = kCelsius + 25.0; T < kCelsius + 90.0; T += 5.0, ++falls) {
    EXPECT_LT(modulus_Pa(resin, T), before);
    EXPECT_LT(strength_Pa(resin, T, End::kLow), strength_Pa(resin, T));
    EXPECT_GT(strength_Pa(resin, T, End::kHigh), strength_Pa(resin, T));
    before = modulus_Pa(resin, T);
  }
  EXPECT_EQ(falls, 13);
  EXPECT_EQ(modulus_Pa(resin, kCelsius + 200.0), 10e6);  // rubber
  EXPECT_LT(deflection_temperature_K(resin, 10e6), deflection_temperature_K(resin, 1.8e6));
  EXPECT_NEAR(deflection_temperature_K(resin, 0.0), resin.deflects_at_045_K.likely,
              1e-9);  // never more than the card says
  EXPECT_GT(deflection_temperature_K(resin, 90e6), kRoom_K);
}

TEST(Resin, AMetalKeepsItsModulusAndStrengthBelowItsLimit) {
  ResinSpec metal = standard_resin();
  metal.modulus_Pa = {70e9, 68e9, 73e9};
  metal.deflects_at_045_K = {kCelsius + 200.0, kCelsius + 150.0, kCelsius + 250.0};
  metal.deflects_at_180_K = {kCelsius + 190.0, kCelsius + 140.0, kCelsius + 240.0};
  EXPECT_LT(modulus_Pa(metal, kCelsius + 100.0), 0.2 * 70e9);  // as if it softened
  metal.softens = false;
  for (const End end : {End::kLow, End::kLikely, End::kHigh})
    for (const double T : {kRoom_K, kCelsius + 100.0, end_of(metal.deflects_at_045_K, end) - 0.1}) {
      EXPECT_EQ(modulus_Pa(metal, T, end), end_of(metal.modulus_Pa, end)) << T;
      EXPECT_EQ(strength_Pa(metal, T, end), end_of(metal.strength_Pa, end)) << T;
    }
  EXPECT_LT(modulus_Pa(metal, kCelsius + 201.0), 0.1 * 70e9);
  EXPECT_NEAR(deflection_temperature_K(metal, 50e6), metal.deflects_at_180_K.likely, 1e-9);
}

}  // namespace
}  // namespace pellicle::checks
