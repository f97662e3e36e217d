// Compliance of the sheet's face: closed forms against published figures and against each other.
#include "solver/imprint/compliance.h"

#include "mesh/check.h"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <numbers>

namespace pellicle::imprint {
namespace {

constexpr double kG_Pa = 3e5, kH_m = 4e-4;  // every value below is made free of these two
constexpr double kHalfPi = 0.5 * std::numbers::pi;

LayerStack single(double stretch_x = 1.0, double stretch_y = 1.0) { return {{{kH_m, kG_Pa}}, stretch_x, stretch_y}; }

LayerStack split(const LayerStack& whole, int parts) {
  LayerStack stack{{}, whole.stretch_x, whole.stretch_y};
  double left_m = whole.layers[0].thickness_m;
  for (int i = 0; i < parts; ++i) {  // unequal parts, so that nothing cancels by symmetry
    const double part_m = i + 1 == parts ? left_m : left_m * (i % 2 ? 0.2 : 0.1);
    stack.layers.push_back({part_m, whole.layers[0].shear_modulus_Pa, whole.layers[0].poisson_ratio});
    left_m -= part_m;
  }
  return stack;
}

/// C 2 G k, which is 1 for an unstretched incompressible half-space.
double reduced(const LayerStack& stack, double kh, double angle_rad = 0.0) {
  const double k = kh / kH_m;
  return compliance_m_per_Pa(stack, k, angle_rad) * 2.0 * kG_Pa * k;
}

// Six digits of an independent evaluation of the closed form in extended precision; half a unit of the last digit.
TEST(Compliance, IsotropicLayerAsTabulated) {
  constexpr std::array<std::array<double, 2>, 6> kTable{
      {{.25, 388.846}, {.5, 50.4914}, {1, 7.38244}, {2, 1.70906}, {5, 1.00557}, {10, 1.000001}}};
  for (const auto [kh, value] : kTable) EXPECT_NEAR(reduced(single(), kh), value, 1e-5 * value) << kh;
  EXPECT_NEAR(reduced(single(), 2000.0), 1.0, 1e-14);  // thick: the half-space, and no overflow
}

// At the change from series to closed form the closed form has lost 1e-16/x^4 = 3e-11 to cancellation, the series x^6.
TEST(Compliance, SeriesMeetsClosedForm) {
  const Layer layer{kH_m, kG_Pa, 0.4};
  const auto scaled = [&](double x) { return isotropic_compliance_m_per_Pa(layer, x / kH_m) * x * x * x * x; };
  const double below = scaled(0.05 - 1e-9), above = scaled(0.05 + 1e-9);
  EXPECT_NEAR(below / above, 1.0, 1e-9);
  const double plane_Pa = 2.0 * kG_Pa / 0.6;
  EXPECT_NEAR(scaled(1e-4) * plane_Pa / (12.0 * kH_m), 1.0, 1e-8);  // the plate; its first correction is x^2/5 = 2e-9
}

// Six digits of an independent evaluation (Biot's formula); half a unit of the last digit.
TEST(Compliance, PrestretchedLayerAsTabulated) {
  constexpr std::array<std::array<double, 2>, 6> kEquibiaxial{
      {{.25, 3.88012}, {.5, 1.94429}, {1, 1.06718}, {2, .788165}, {5, .751406}, {300, .7513168}}};
  for (const auto [kh, value] : kEquibiaxial) EXPECT_NEAR(reduced(single(1.5, 1.5), kh), value, 1e-5 * value) << kh;
  EXPECT_NEAR(reduced(single(1.25, 1.25), 300.0), .8942553, 1e-6);
  EXPECT_NEAR(reduced(single(2.0, 2.0), 1.0), .635512, 1e-6);
  EXPECT_NEAR(reduced(single(2.0, 2.0), 300.0), .4808013, 1e-6);
  EXPECT_NEAR(reduced(single(1.5, 1.0), 1.0), 1.07585, 1e-5);
  EXPECT_NEAR(reduced(single(1.5, 1.0), 10.0), .658691, 1e-6);
  EXPECT_NEAR(reduced(single(1.0, 1.5), 1.0, kHalfPi), 1.07585, 1e-5);  // turned by a right angle
}

// Thin: tension alone, 1/(T h k^2) with T = G (l1^2 - l2^2); bending adds about (k h)^2. Thick: the half-space.
TEST(Compliance, PrestretchedLimits) {
  const double l1 = 1.4, l2 = 1.0 / (1.4 * 1.2), k = 1e-4 / kH_m;
  const double thin = biot_compliance_m_per_Pa(kH_m, kG_Pa, k, l1, l2);
  EXPECT_NEAR(thin * kG_Pa * (l1 * l1 - l2 * l2) * kH_m * k * k, 1.0, 1e-8);
  const double thick = biot_compliance_m_per_Pa(kH_m, kG_Pa, 60.0 / kH_m, l1, l2);
  EXPECT_NEAR(thick / biot_half_space_compliance_m_per_Pa(kG_Pa, 60.0 / kH_m, l1, l2), 1.0, 1e-12);
}

// Biot's surface instability: the half-space gives without bound at r = 0.2956 (published as 0.2956 or l = 0.666
// under equibiaxial compression) and the thick layer with it.
TEST(Compliance, SurfaceInstability) {
  const auto half_space = [](double r) { return biot_half_space_compliance_m_per_Pa(kG_Pa, 1.0, r, 1.0); };
  const auto layer = [](double r) { return biot_compliance_m_per_Pa(kH_m, kG_Pa, 200.0 / kH_m, r, 1.0); };
  EXPECT_GT(half_space(0.2957), 0.0);
  EXPECT_LT(half_space(0.2955), 0.0);
  EXPECT_GT(layer(0.2957), 0.0);
  EXPECT_LT(layer(0.2955), 0.0);
  EXPECT_THROW(StiffnessTable(single(0.8, 0.8), 1.0 / kH_m, 10.0 / kH_m), Error);  // wrinkles as a strut
}

// Nearly unstretched equals unstretched plus what the stretch itself does: no jump, no noise, thin or thick. The
// comparison is with the isotropic form and the exact tension; what remains goes with |r - 1| times a number near 1.
TEST(Compliance, NearIsotropicIsSmooth) {
  for (const double kh : {0.01, 0.05, 0.25, 1.0, 5.0}) {
    const double k = kh / kH_m, plain = 1.0 / isotropic_compliance_m_per_Pa({kH_m, kG_Pa}, k);
    for (const double delta : {-9e-4, -1e-5, 0.0, 1e-5, 5e-4, 9.99e-4, 1.01e-3}) {
      const double r = 1.0 + delta, tension = kG_Pa * (r * r - 1.0) * kH_m * k * k;
      const double stiffness = 1.0 / biot_compliance_m_per_Pa(kH_m, kG_Pa, k, r, 1.0);
      EXPECT_NEAR((stiffness - tension) / plain, 1.0, 1e-4 + (1.0 + kh) * 3.0 * std::fabs(delta)) << kh << " " << r;
    }
  }
}

// Six digits of an independent recursion: a skin of 0.1 h and 20 G on the mould's side of 0.9 h and G.
TEST(Compliance, TwoLayersAsTabulated) {
  const LayerStack skin{{{0.1 * kH_m, 20.0 * kG_Pa}, {0.9 * kH_m, kG_Pa}}};
  EXPECT_NEAR(reduced(skin, 1.0), 4.67943, 1e-5 * 4.67943);
  EXPECT_NEAR(reduced(skin, 3.0), 1.02542, 1e-5);
  EXPECT_NEAR(reduced(skin, 10.0), .263059, 1e-6);
}

// A layer cut into 16 is still that layer. 1e-6: what long double leaves at the thin end of the recursion.
TEST(Compliance, CuttingALayerChangesNothing) {
  int checked = 0;
  for (const double nu : {0.0, 0.3, 0.499999, 0.5}) {
    LayerStack whole = single();
    whole.layers[0].poisson_ratio = nu;
    for (const double kh : {0.05, 0.1, 0.7, 3.0, 40.0}) {
      EXPECT_NEAR(reduced(split(whole, 16), kh) / reduced(whole, kh), 1.0, 1e-6) << nu << " " << kh;
      ++checked;
    }
  }
  for (const double lx : {0.9, 1.0003, 1.5, 3.0}) {
    for (const double kh : {0.05, 0.1, 0.7, 3.0, 40.0}) {
      const LayerStack whole = single(lx, 1.2);
      EXPECT_NEAR(reduced(split(whole, 16), kh) / reduced(whole, kh), 1.0, 1e-6) << lx << " " << kh;
      ++checked;
    }
  }
  EXPECT_EQ(checked, 40);
}

// Far below k h = 0.05 a stack is a laminate: D = sum of E* (second moment about the neutral plane), textbook.
TEST(Compliance, ThinStackIsALaminateInTension) {
  const std::vector<Layer> layers{{0.1 * kH_m, 20.0 * kG_Pa}, {0.6 * kH_m, kG_Pa, 0.3}, {0.3 * kH_m, 4.0 * kG_Pa}};
  double stiff = 0.0, moment = 0.0, second = 0.0, low = 0.0;
  for (const Layer& l : layers) {
    const double plane = 2.0 * l.shear_modulus_Pa / (1.0 - l.poisson_ratio), high = low + l.thickness_m;
    stiff += plane * (high - low);
    moment += plane * (high * high - low * low) / 2.0;
    second += plane * (high * high * high - low * low * low) / 3.0;
    low = high;
  }
  const double bending = second - moment * moment / stiff, k = 1e-3 / kH_m;
  // 1e-4: D is carried from k h = 0.1 and 0.2 to 0 along a parabola; shear of the soft core bends it a little.
  EXPECT_NEAR(compliance_m_per_Pa({layers}, k, 0.0) * bending * k * k * k * k, 1.0, 1e-4);

  const LayerStack drawn{{{0.1 * kH_m, 20.0 * kG_Pa}, {0.9 * kH_m, kG_Pa}}, 1.5, 1.2};
  const double tension = (0.1 * 20.0 + 0.9) * kH_m * kG_Pa * (1.2 * 1.2 - 1.0 / std::pow(1.5 * 1.2, 2));
  EXPECT_NEAR(compliance_m_per_Pa(drawn, k, kHalfPi) * tension * k * k, 1.0, 1e-5);  // bending is (k h)^2 of it
}

// The change from recursion to the thin formula at k h = 0.05 is no step: 1e-4 as above.
TEST(Compliance, ThinFormulaMeetsRecursion) {
  const LayerStack drawn{{{0.1 * kH_m, 20.0 * kG_Pa}, {0.9 * kH_m, kG_Pa}}, 1.5, 1.2};
  for (const LayerStack& stack : {drawn, LayerStack{drawn.layers}}) {
    const double below = reduced(stack, 0.05 * (1 - 1e-9)), above = reduced(stack, 0.05 * (1 + 1e-9));
    EXPECT_NEAR(below / above, 1.0, 1e-4);
  }
}

// The table against what it tabulates, off its points and at all angles, also where tension vanishes along y.
TEST(Compliance, TableIsGoodToItsStatedError) {
  const std::vector<Layer> skin{{0.2 * kH_m, 10.0 * kG_Pa}, {0.8 * kH_m, kG_Pa}};
  int checked = 0;
  for (const LayerStack& stack : {single(), single(1.5, 1.5), single(2.0, 1.0), single(3.0, 1.0), single(2.0, 0.7072),
                                  LayerStack{skin, 1.0, 1.0}, LayerStack{skin, 1.8, 1.1}}) {
    const double least = 0.02 / kH_m, largest = 50.0 / kH_m;
    const StiffnessTable table(stack, least, largest);
    for (double k = least; k < largest; k *= 1.37) {
      for (const double angle : {0.0, 0.2, 0.7, 1.1, 1.5, kHalfPi}) {
        const double s = table.stiffness_Pa_per_m(k * std::cos(angle), k * std::sin(angle));
        EXPECT_NEAR(s * compliance_m_per_Pa(stack, k, angle), 1.0, 1e-5) << k * kH_m << " " << angle;
        ++checked;
      }
    }
  }
  EXPECT_GT(checked, 700);
}

// How far the free face goes with the loaded one. Both ends from the formula's own series: the next term of the first
// is of the order x^6, below 1e-5 of what is compared at x = 0.1; the second leaves out e^-2x of itself.
TEST(Compliance, FreeFaceGoesWithLongWavesAndNotWithShortOnes) {
  EXPECT_NEAR(1.0 - free_face_share(single(), 0.1 / kH_m, 0.0), 1e-4 / 24.0, 1e-7);
  EXPECT_NEAR(free_face_share(single(), 1e-3 / kH_m, 0.0), 1.0, 1e-12);
  for (const double x : {8.0, 12.0, 20.0})
    EXPECT_NEAR(free_face_share(single(), x / kH_m, 0.0) / (2.0 * (1.0 + x) * std::exp(-x)), 1.0, 1e-5) << x;
  EXPECT_NEAR(free_face_share(single(1.5, 1.2), 1e-3 / kH_m, 0.3), 1.0, 1e-6);
  EXPECT_EQ(free_face_share(split(single(), 3), 60.0 / kH_m, 0.0), 0.0);  // out of the recursion's reach
}

// The closed forms add up faces that move together and apart; the recursion carries displacements from layer to layer.
// They share no line of code. 1e-6 is what the recursion is good to; within 1e-3 of r = 1 the
// closed form is a chord, off by some x^2 1e-6/8.
TEST(Compliance, FreeFaceOfOneLayerIsThatOfItsParts) {
  int checked = 0;
  for (const LayerStack& whole :
       {single(), single(1.5, 1.2), single(1.2, 2.0), single(1.0003, 1.0), single(3.0, 1.0)}) {
    for (const double x : {0.06, 0.3, 1.0, 3.0, 9.0}) {
      for (const double angle : {0.0, 0.7, kHalfPi}) {
        const double one = free_face_share(whole, x / kH_m, angle);
        EXPECT_NEAR(free_face_share(split(whole, 5), x / kH_m, angle) / one, 1.0, 1e-5) << x << " " << angle;
        EXPECT_GT(one, 0.0);
        EXPECT_LT(one, 1.0);
        ++checked;
      }
    }
  }
  EXPECT_EQ(checked, 75);
}

TEST(Compliance, RefusesWhatIsNoSheet) {
  EXPECT_THROW(check({}), Error);
  EXPECT_THROW(check({{{0.0, kG_Pa}}}), Error);
  EXPECT_THROW(check({{{kH_m, -1.0}}}), Error);
  EXPECT_THROW(check({{{kH_m, kG_Pa, 0.51}}}), Error);
  EXPECT_THROW(check({{{kH_m, kG_Pa, 0.49}}, 1.1, 1.0}), Error);
  EXPECT_THROW(check({{{kH_m, kG_Pa}}, 0.0, 1.0}), Error);
  EXPECT_NO_THROW(check(single(1.1, 1.0)));
}

}  // namespace
}  // namespace pellicle::imprint
