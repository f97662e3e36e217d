// Are the laws of the reference answers what they claim to be? Against their energies, closed forms, and the solver's.
#include "solver/reference/law.h"
#include "solver/sheet/polymer.h"
#include "tests/solver/reference/samples.h"

#include <gtest/gtest.h>

#include <array>
#include <cmath>

namespace pellicle::reference {
namespace {

constexpr std::array<std::array<double, 2>, 6> kStretches{
    {{1.0, 1.0}, {1.3, 0.9}, {2.5, 2.5}, {4.0, 1.2}, {0.8, 1.9}, {1.5, 1.0}}};

// Central differences of the energy: error ~ step^2 = 1e-8 of third slopes, round-off 1e-16/step^2 = 1e-8 of W in the
// second slopes; both grow with the stretch, so the scale is W11 at the place.
TEST(ReferenceLaw, SlopesAreDifferencesOfTheEnergy) {
  constexpr double kStep = 1e-4;
  int checked = 0;
  for (const LawSample& s : law_samples()) {
    const auto w = [&](double a, double b) { return s.energy_Pa(a, b, 1.0 / (a * b)); };
    for (const auto& [a, b] : kStretches) {
      const LawPoint p = s.law(a, b);
      const double scale = std::fabs(p.w11_Pa) + std::fabs(p.w22_Pa);
      EXPECT_NEAR(p.w_Pa, w(a, b), 1e-12 * scale) << s.name;
      EXPECT_NEAR(p.w1_Pa, (w(a + kStep, b) - w(a - kStep, b)) / (2 * kStep), 1e-6 * scale) << s.name;
      EXPECT_NEAR(p.w2_Pa, (w(a, b + kStep) - w(a, b - kStep)) / (2 * kStep), 1e-6 * scale) << s.name;
      EXPECT_NEAR(p.w11_Pa, (w(a + kStep, b) - 2 * w(a, b) + w(a - kStep, b)) / (kStep * kStep), 1e-5 * scale)
          << s.name;
      EXPECT_NEAR(p.w22_Pa, (w(a, b + kStep) - 2 * w(a, b) + w(a, b - kStep)) / (kStep * kStep), 1e-5 * scale)
          << s.name;
      EXPECT_NEAR(
          p.w12_Pa,
          (w(a + kStep, b + kStep) - w(a + kStep, b - kStep) - w(a - kStep, b + kStep) + w(a - kStep, b - kStep)) /
              (4 * kStep * kStep),
          1e-5 * scale)
          << s.name;
      ++checked;
    }
    // Small strains: W11 = 4 G, W12 = 2 G of an incompressible sheet.
    EXPECT_NEAR(s.law(1.0, 1.0).w11_Pa, 4.0 * s.shear_modulus_Pa, 1e-12 * s.shear_modulus_Pa) << s.name;
    EXPECT_NEAR(s.law(1.0, 1.0).w12_Pa, 2.0 * s.shear_modulus_Pa, 1e-12 * s.shear_modulus_Pa) << s.name;
  }
  EXPECT_EQ(checked, 24);
}

// Any text on rubber elasticity; Mooney-Rivlin from its invariants.
TEST(ReferenceLaw, ClosedFormsAtAPoint) {
  const Law nh = neo_hookean(0.3e6), mr = mooney_rivlin(0.12e6, 0.02e6);
  for (const double l : {1.1, 2.0, 5.0}) {
    EXPECT_NEAR(uniaxial_Pa(nh, l), 0.3e6 * (l - std::pow(l, -2.0)), 1e-6);
    EXPECT_NEAR(equibiaxial_Pa(nh, l), 0.3e6 * (l - std::pow(l, -5.0)), 1e-6);
    EXPECT_NEAR(pure_shear_Pa(nh, l), 0.3e6 * (l - std::pow(l, -3.0)), 1e-6);
    EXPECT_NEAR(uniaxial_Pa(mr, l), 2.0 * (l - std::pow(l, -2.0)) * (0.12e6 + 0.02e6 / l), 1e-6);
    EXPECT_NEAR(equibiaxial_Pa(mr, l), 2.0 * (l - std::pow(l, -5.0)) * (0.12e6 + 0.02e6 * l * l), 1e-6);
    EXPECT_NEAR(pure_shear_Pa(mr, l), 2.0 * (l - std::pow(l, -3.0)) * (0.12e6 + 0.02e6), 1e-6);
    EXPECT_NEAR(balloon_pressure_Pa(nh, 0.05, 1e-3, l), 2.0 * 0.3e6 * 0.02 * (1.0 / l - std::pow(l, -7.0)), 1e-6);
  }
  const double top = std::pow(7.0, 1.0 / 6.0), there = balloon_pressure_Pa(nh, 0.05, 1e-3, top);
  EXPECT_GT(there, balloon_pressure_Pa(nh, 0.05, 1e-3, 0.99 * top));
  EXPECT_GT(there, balloon_pressure_Pa(nh, 0.05, 1e-3, 1.01 * top));
}

// Two writings of one law: a and b there, principal stretches here. Round-off.
TEST(ReferenceLaw, AgreesWithTheSolversOwn) {
  sheet::Ogden ogden{};
  ogden.terms = 3;
  ogden.mu_Pa = {0.63e6, 0.0012e6, -0.01e6};
  ogden.alpha = {1.3, 5.0, -2.0};
  const std::vector<sheet::Polymer> own{sheet::NeoHookean{0.3e6}, sheet::MooneyRivlin{0.12e6, 0.02e6},
                                        sheet::Yeoh{0.15e6, 0.01e6, 0.002e6}, ogden};
  const auto samples = law_samples();
  int checked = 0;
  for (std::size_t k = 0; k < own.size(); ++k)
    for (const auto& [a, b] : kStretches) {
      const LawPoint p = samples[k].law(a, b);
      std::visit(
          [&, a = a, b = b](const auto& law) {
            const sheet::Stretch s{a * a + b * b, a * a * b * b};
            const sheet::EnergySlope slope = law.slope(s);
            EXPECT_NEAR(law.energy_Pa(s), p.w_Pa, 1e-10 * p.w11_Pa);
            EXPECT_NEAR(2.0 * a * (slope.wa_Pa + b * b * slope.wb_Pa), p.w1_Pa, 1e-10 * p.w11_Pa);
            EXPECT_NEAR(2.0 * b * (slope.wa_Pa + a * a * slope.wb_Pa), p.w2_Pa, 1e-10 * p.w11_Pa);
          },
          own[k]);
      ++checked;
    }
  EXPECT_EQ(checked, 24);
}

TEST(ReferenceLaw, TensionFieldPullsOneWayOnly) {
  int checked = 0;
  for (const LawSample& s : law_samples()) {
    const Law t = tension_field(s.law);
    for (const double l : {1.2, 2.0, 3.0}) {
      const double width = 1.0 / std::sqrt(l);
      EXPECT_NEAR(s.law(l, width).w2_Pa, 0.0, 1e-9 * s.shear_modulus_Pa) << "no pull at the natural width";
      const LawPoint folded = t(l, 0.7 * width), turned = t(0.7 * width, l);
      EXPECT_DOUBLE_EQ(folded.w_Pa, s.law(l, width).w_Pa);
      EXPECT_DOUBLE_EQ(folded.w1_Pa, uniaxial_Pa(s.law, l));
      EXPECT_EQ(folded.w2_Pa, 0.0);
      EXPECT_EQ(turned.w1_Pa, 0.0);
      EXPECT_DOUBLE_EQ(turned.w2_Pa, folded.w1_Pa);
      constexpr double kStep = 1e-5;
      EXPECT_NEAR(folded.w11_Pa, (uniaxial_Pa(s.law, l + kStep) - uniaxial_Pa(s.law, l - kStep)) / (2 * kStep),
                  1e-6 * s.shear_modulus_Pa * l * l * l * l)
          << s.name;
      EXPECT_DOUBLE_EQ(t(l, 1.5).w1_Pa, s.law(l, 1.5).w1_Pa) << "taut";
      ++checked;
    }
    EXPECT_EQ(t(0.9, 0.95).w_Pa, 0.0);
    EXPECT_EQ(t(0.9, 0.95).w1_Pa, 0.0);
  }
  EXPECT_EQ(checked, 12);
}

}  // namespace
}  // namespace pellicle::reference
