// Is the slowest stage told, and is a throat that limits a doubt with the throat that would not?
#include "solver/checks/gas_supply.h"

#include <gtest/gtest.h>

namespace pellicle::checks {
namespace {

GasStage stage(double throat_m, double duration_s) {
  return {"press",
          duration_s,
          {.supply_Pa = 4e5 + air::kAtmosphere_Pa,
           .from_Pa = air::kAtmosphere_Pa,
           .to_Pa = kFull * 4e5 + air::kAtmosphere_Pa,
           .throat_m = throat_m,
           .volume_from_m3 = 0.3e-3,
           .volume_to_m3 = 0.36e-3}};
}

TEST(GasSupply, NothingIsSaidWithoutAThroat) { EXPECT_FALSE(gas_supply({}).has_value()); }

TEST(GasSupply, ThroatThatLimitsIsADoubtAndTheOneAdvisedIsNot) {
  const auto wide = gas_supply({stage(6e-3, 1.0)});
  ASSERT_TRUE(wide.has_value());
  EXPECT_EQ(wide->verdict, Verdict::kPass) << wide->why;
  EXPECT_NEAR(wide->value, air::filling_time_s(stage(6e-3, 1.0).filling), 1e-12);
  const auto both = gas_supply({stage(6e-3, 1.0), stage(1e-3, 1.0)});
  EXPECT_EQ(both->verdict, Verdict::kDoubt);
  EXPECT_GT(both->value, *both->limit);
  EXPECT_NE(both->why.find("the throat limits"), std::string::npos) << both->why;
  const double enough_m = air::throat_for_m(stage(1e-3, 1.0).filling, *both->limit);
  EXPECT_EQ(gas_supply({stage(1.001 * enough_m, 1.0)})->verdict, Verdict::kPass);
  EXPECT_EQ(gas_supply({stage(0.999 * enough_m, 1.0)})->verdict, Verdict::kDoubt);
}

}  // namespace
}  // namespace pellicle::checks
