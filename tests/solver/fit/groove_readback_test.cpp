// Grooves read back: depths made from a known modulus, by closed form and by sections, must give that modulus.
#include "solver/fit/groove_readback.h"

#include "mesh/check.h"
#include "solver/imprint/section.h"
#include "tests/solver/threads.h"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <numbers>

namespace pellicle::fit {
namespace {

constexpr double kModulus_Pa = 0.45e6, kPressure_Pa = 4e5, kThickness_m = 0.75e-3;

Groove groove(double width_m, double depth_m, double edge_radius_m) {
  Groove g{};
  g.width_m = width_m;
  g.depth_m = depth_m;
  g.depth_error_m = 2e-6;
  g.edge_radius_m = edge_radius_m;
  g.thickness_m = kThickness_m;
  g.pressure_Pa = kPressure_Pa;
  return g;
}

/// Measured in thought: the section with twice the elements and ten times the contact stiffness of the one read back
/// with would cost minutes; 1.4 times the elements shows the mesh's part all the same. Pitch and floor are the
/// coupon's, not the reader's.
double true_depth_m(const Groove& g, double modulus_Pa) {
  imprint::SectionTask task;
  task.sheet = {g.thickness_m, modulus_Pa, g.stretch_across, g.stretch_along, {}};
  task.profile = imprint::half_slot(g.width_m, 2.5 * g.width_m, 6.0 * g.width_m, g.edge_radius_m);
  task.touch = imprint::SectionTouch::kStick;
  task.pressure_Pa = g.pressure_Pa;
  task.refinement = 1.4;
  const auto result = imprint::solve_section(task);
  EXPECT_FALSE(result.floor_touched);
  return result.depth_m;
}

// Collinear cracks on a half-space (Tada, Paris and Irwin; from memory): d = (p/(2 G)) (P/pi) acosh(1/cos(pi w/(2 P))),
// with P = 5 w and w the width at the brim, d/w = 0.005. A sheet of four widths adds 0.2 %. The slot table is good to
// 0.8 %, its pitch is the same: 1 %. In the section the sheet lies on a third of the edges' radius of w/50, so that the
// groove acts 1.4 % narrower, and the mesh takes 1 to 2 %: 3.5 %.
TEST(GrooveReadback, HalfSpaceGroovesAreCollinearCracks) {
  const double p_over_G = 0.01, crack = (5.0 / std::numbers::pi) * std::acosh(1.0 / std::cos(0.1 * std::numbers::pi));
  std::vector<Groove> grooves;
  for (const double brim_m : {0.08e-3, 0.1e-3}) {
    grooves.push_back(groove(0.96 * brim_m, 0.5 * p_over_G * crack * brim_m, 0.02 * brim_m));
    grooves.back().depth_error_m = 1e-9;
    grooves.back().thickness_m = 4.0 * brim_m;
    grooves.back().pressure_Pa = p_over_G * kModulus_Pa;
  }
  const GrooveReadback back = read_grooves(grooves);
  for (const GrooveReading& reading : back.readings) {
    EXPECT_NEAR(reading.layer_pressure_over_modulus / p_over_G, 1.0, 0.01);
    EXPECT_NEAR(reading.pressure_over_modulus / p_over_G, 1.0, 0.035);
    RecordProperty("section", std::to_string(reading.pressure_over_modulus / p_over_G));
  }
  EXPECT_EQ(back.used, 2);
}

struct Coupon {
  std::vector<Groove> grooves;
  Coupon() {
    // Errors of a microscope, one standard deviation 2 % of the depth, fixed for the same answer every time.
    const std::array<double, 5> noise{0.021, -0.013, 0.008, -0.027, 0.016};
    std::size_t k = 0;
    for (const double width_m : {0.3e-3, 0.5e-3, 0.8e-3, 1.2e-3, 2.0e-3}) {
      Groove g = groove(width_m, 1e-4, 0.04e-3);
      g.depth_m = true_depth_m(g, kModulus_Pa) * (1.0 + noise[k]);
      g.depth_error_m = 0.02 * g.depth_m;
      grooves.push_back(g);
      ++k;
    }
  }
};

const Coupon& coupon() {
  static const Coupon made;
  return made;
}

// 2 % of noise, the mesh 1 %, the other pitch 1 %: the median of five is within 4 % of the modulus it was made from,
// and the band that is told holds it.
TEST(GrooveReadback, SectionDepthsWithNoiseGiveTheModulusBack) {
  const GrooveReadback back = read_grooves(coupon().grooves);
  EXPECT_EQ(back.used, 5);
  EXPECT_EQ(back.outliers, 0);
  EXPECT_NEAR(back.shear_modulus_Pa.likely / kModulus_Pa, 1.0, 0.04);
  EXPECT_LT(back.shear_modulus_Pa.low, kModulus_Pa);
  EXPECT_GT(back.shear_modulus_Pa.high, kModulus_Pa);
  EXPECT_LT(back.uncertainty, 0.1);
  RecordProperty("modulus", std::to_string(back.shear_modulus_Pa.likely / kModulus_Pa));
  for (std::size_t i = 0; i < back.readings.size(); ++i) {
    const GrooveReading& r = back.readings[i];
    EXPECT_EQ(r.model, GrooveModel::kSection);
    RecordProperty("groove_" + std::to_string(i),
                   std::to_string(r.shear_modulus_Pa / kModulus_Pa) + " layer " +
                       std::to_string(kPressure_Pa / r.layer_pressure_over_modulus / kModulus_Pa) + " sections " +
                       std::to_string(r.sections));
  }
}

// One groove read wrongly by half moves the median by less than the scatter of the others, and is named.
TEST(GrooveReadback, WrongGrooveIsNamedAndHardlyFelt) {
  std::vector<Groove> grooves(coupon().grooves.begin(), coupon().grooves.begin() + 4);
  grooves[1].depth_m *= 0.5;
  const GrooveReadback back = read_grooves(grooves);
  EXPECT_NEAR(back.shear_modulus_Pa.likely / kModulus_Pa, 1.0, 0.06);
  EXPECT_EQ(back.outliers, 1);
  EXPECT_TRUE(back.readings[1].is_outlier);
  EXPECT_FALSE(back.readings[1].why.empty());
}

TEST(GrooveReadback, FilledGroovesAreNotUsed) {
  std::vector<Groove> grooves(coupon().grooves.begin(), coupon().grooves.begin() + 3);
  grooves[1].floor_m = 1.02 * grooves[1].depth_m;
  const GrooveReadback back = read_grooves(grooves);
  EXPECT_EQ(back.used, 2);
  EXPECT_FALSE(back.readings[1].used());
  EXPECT_NE(back.readings[1].why.find("floor"), std::string::npos);
  grooves[0].floor_m = grooves[0].depth_m;
  try {
    read_grooves(grooves);
    ADD_FAILURE() << "one groove was enough";
  } catch (const Error& error) {
    EXPECT_EQ(error.fault().found, "1 that can be used");
    for (const char* reason : {"groove 1: the sheet reached", "groove 2: the sheet reached"})
      EXPECT_NE(error.fault().advice.find(reason), std::string::npos) << error.what();
    EXPECT_EQ(error.fault().advice.find("groove 3"), std::string::npos) << error.what();
  }
}

// A fifth of a micrometre of depth would say 800 MPa, and at 27 thicknesses layer theory has no table: neither counts,
// each says why. The two others give their modulus as if alone.
TEST(GrooveReadback, GroovesWithoutABelievableAnswerAreLeftOut) {
  std::vector<Groove> grooves(coupon().grooves.begin(), coupon().grooves.begin() + 2);
  const double alone_Pa = read_grooves(grooves).shear_modulus_Pa.likely;
  grooves.push_back(groove(1e-3, 0.2e-6, 0.0));
  grooves.back().depth_error_m = 1e-7;
  grooves.push_back(groove(20e-3, 1e-3, 0.0));
  const GrooveReadback back = read_grooves(grooves);
  EXPECT_EQ(back.used, 2);
  EXPECT_EQ(back.shear_modulus_Pa.likely, alone_Pa);
  EXPECT_FALSE(back.readings[2].used());
  EXPECT_NE(back.readings[2].why.find("where 0.01 to 10 is to be believed"), std::string::npos) << back.readings[2].why;
  EXPECT_FALSE(back.readings[3].used());
  EXPECT_NE(back.readings[3].why.find("26.7 thicknesses, 16 at most"), std::string::npos) << back.readings[3].why;
}

TEST(GrooveReadback, SameBitsForAnyThreads) {
  const std::vector<Groove> grooves(coupon().grooves.begin(), coupon().grooves.begin() + 3);
  const auto with_threads = [&](int count) {
    const Threads use(count);
    return read_grooves(grooves);
  };
  const GrooveReadback one = with_threads(1), three = with_threads(3);
  ASSERT_EQ(one.readings.size(), 3U);
  for (std::size_t i = 0; i < 3; ++i) EXPECT_EQ(one.readings[i].shear_modulus_Pa, three.readings[i].shear_modulus_Pa);
}

TEST(GrooveReadback, RefusesWhatIsNoGroove) {
  int refused = 0;
  const auto refuse = [&](auto&& spoil) {
    Groove g = groove(0.5e-3, 0.1e-3, 0.0);
    spoil(g);
    try {
      read_grooves({g, g});
    } catch (const Error& error) {
      EXPECT_EQ(error.fault().kind, Fault::Kind::kCase);
      ++refused;
    }
  };
  refuse([](Groove& g) { g.width_m = 0.0; });
  refuse([](Groove& g) { g.depth_m = std::nan(""); });
  refuse([](Groove& g) { g.thickness_m = 2.0; });
  refuse([](Groove& g) { g.edge_radius_m = -1e-5; });
  refuse([](Groove& g) { g.depth_error_m = g.depth_m; });
  refuse([](Groove& g) { g.pressure_Pa = 0.0; });
  refuse([](Groove& g) { g.stretch_along = 9.0; });
  EXPECT_EQ(refused, 7);
}

}  // namespace
}  // namespace pellicle::fit
