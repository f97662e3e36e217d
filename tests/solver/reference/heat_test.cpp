// Do the closed forms of heat solve the heat equation, with the right ends?
#include "solver/reference/heat.h"

#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <numbers>

namespace pellicle::reference {
namespace {

/// dT/dt - d2T/ds2 by central differences, over the size of the second.
double residual(const std::function<double(double, double)>& T, double s, double t) {
  const double ds = 1e-3, dt = 1e-5;
  const double rate = (T(s, t + dt) - T(s, t - dt)) / (2.0 * dt);
  const double bend = (T(s + ds, t) - 2.0 * T(s, t) + T(s - ds, t)) / (ds * ds);
  return std::fabs(rate - bend) / std::fabs(bend);
}

TEST(ReferenceHeat, ScaledErrorFunctionJoinsItsSeries) {
  EXPECT_DOUBLE_EQ(scaled_erfc(0.0), 1.0);
  // Abramowitz & Stegun, Table 7.1: erf 1 = 0.8427007929 (from memory).
  EXPECT_NEAR(scaled_erfc(1.0), std::exp(1.0) * (1.0 - 0.8427007929), 1e-9);
  // Both branches solve y' = 2 x y - 2/sqrt(pi), so the step over the joint is known.
  const double below = scaled_erfc(6.0 - 1e-7), above = scaled_erfc(6.0);
  const double slope = 12.0 * below - 2.0 / std::sqrt(std::numbers::pi);
  EXPECT_NEAR(above - below, 1e-7 * slope, 1e-13);
}

TEST(ReferenceHeat, HeldSlabSolvesItsEquation) {
  const auto T = [](double s, double t) { return slab_held(s, t, 400.0, 300.0, 350.0); };
  for (const double s : {0.2, 0.5, 0.7}) EXPECT_LT(residual(T, s, 0.05), 1e-3) << s;
  EXPECT_NEAR(T(0.5, 1e-3), 400.0, 1e-3);  // erfc(0.5/(2 sqrt 1e-3)) is nothing yet
  EXPECT_NEAR(T(0.0, 0.1), 300.0, 1e-9);
  EXPECT_NEAR(T(1.0, 0.1), 350.0, 1e-9);
  EXPECT_NEAR(T(0.25, 5.0), 312.5, 1e-9);
}

TEST(ReferenceHeat, FilmSlabSolvesItsEquation) {
  for (const double biot : {0.1, 1.0, 10.0}) {
    for (const double b : film_roots(biot, 5)) EXPECT_NEAR(b * std::tan(b) / biot, 1.0, 1e-9);
    const auto T = [&](double s, double t) { return slab_film(s, t, biot); };
    EXPECT_LT(residual(T, 0.5, 0.2), 1e-3) << biot;
    EXPECT_NEAR((T(1.0, 0.2) - T(1.0 - 1e-5, 0.2)) / 1e-5, -biot * T(1.0, 0.2), 2e-3 * biot);
    EXPECT_NEAR(T(1e-3, 0.2), T(0.0, 0.2), 1e-5) << "no flux at the other side";
    EXPECT_NEAR(T(0.2, 1e-3), 1.0, 1e-4);
  }
  // Carslaw & Jaeger 1959, Appendix IV, Table I: first root for 1 is 0.8603 (from memory).
  EXPECT_NEAR(film_roots(1.0, 1)[0], 0.8603, 5e-5);
}

// A half-space answers a flux q with int q(t')/sqrt(pi (t - t')) dt'/e (Duhamel): put the flux through it by sums.
TEST(ReferenceHeat, HalfSpacesAnswerTheirOwnFlux) {
  const HalfSpaces pair{532.0, 575.0, 413.15, 298.15, 1000.0};
  for (const double t_s : {0.01, 0.5}) {
    double integral = 0.0, passed = 0.0;
    const int n = 4000;
    for (int k = 0; k < n; ++k) {  // t' = t (1 - u^2) takes out the pole, dt' = -2 t u du
      const double u = (k + 0.5) / n;
      const double flux = pair.flux_W_m2(t_s * (1.0 - u * u));
      integral += 2.0 * std::sqrt(t_s / std::numbers::pi) * flux / n;
      passed += flux * 2.0 * t_s * u / n;
    }
    EXPECT_NEAR(pair.surface1_K(t_s), 413.15 - integral / 532.0, 0.01);  // the flux has a root at the start
    EXPECT_NEAR(pair.surface2_K(t_s), 298.15 + integral / 575.0, 0.01);
    EXPECT_NEAR(pair.passed_J_m2(t_s) / passed, 1.0, 1e-3);
    EXPECT_NEAR(pair.surface1_K(t_s) - pair.surface2_K(t_s), pair.flux_W_m2(t_s) / 1000.0, 1e-9);
  }
  EXPECT_NEAR(pair.surface1_K(1e9), (532.0 * 413.15 + 575.0 * 298.15) / (532.0 + 575.0), 1e-3);
}

}  // namespace
}  // namespace pellicle::reference
