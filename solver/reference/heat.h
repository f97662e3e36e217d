// How do slabs and half-spaces cool? Closed forms, without cells.
//
// Carslaw & Jaeger, Conduction of Heat in Solids, 2nd ed. 1959; the sections are named from memory, the formulas are
// checked against the equation they solve.
#pragma once

#include <cmath>
#include <numbers>
#include <vector>

namespace pellicle::reference {

/// exp(x^2) erfc(x) for x >= 0, to about 1e-13: as it stands, and beyond 6 by the asymptotic series, whose smallest
/// term there is below that (Abramowitz & Stegun 7.1.23, from memory).
inline double scaled_erfc(double x) {
  if (x < 6.0) return std::exp(x * x) * std::erfc(x);
  double term = 1.0, sum = 1.0;
  for (int n = 1; n < 30; ++n) term *= -(2.0 * n - 1.0) / (2.0 * x * x), sum += term;
  return sum / (x * std::sqrt(std::numbers::pi));
}

/// Slab 0 <= s <= 1 at T = start, faces held at `low` (s = 0) and `high` (s = 1) from time 0. fourier = alpha t/h^2.
/// Carslaw & Jaeger 3.4. Enough terms for fourier >= 1e-3.
inline double slab_held(double s, double fourier, double start, double low, double high) {
  const double pi = std::numbers::pi;
  double T = low + (high - low) * s;
  for (int n = 1; n < 200; ++n) {
    const double sign = n % 2 == 0 ? 1.0 : -1.0;
    const double weight = 2.0 / (n * pi) * (high * sign - low + start * (1.0 - sign));
    T += weight * std::sin(n * pi * s) * std::exp(-n * n * pi * pi * fourier);
  }
  return T;
}

/// Roots of beta tan beta = biot, the first `count`, by halving: one in each ((n - 1) pi, (n - 1/2) pi).
inline std::vector<double> film_roots(double biot, int count) {
  const double pi = std::numbers::pi;
  std::vector<double> roots;
  for (int n = 0; n < count; ++n) {
    double low = n * pi, high = (n + 0.5) * pi;
    for (int k = 0; k < 80; ++k) {
      const double middle = 0.5 * (low + high);
      (middle * std::sin(middle) < biot * std::cos(middle)) == (n % 2 == 0) ? low = middle : high = middle;
    }
    roots.push_back(0.5 * (low + high));
  }
  return roots;
}

/// Share of the excess temperature left at s in a slab insulated at s = 0, film at s = 1, biot = film h/k:
/// sum 2 sin b/(b + sin b cos b) cos(b s) exp(-b^2 fourier). Carslaw & Jaeger 3.11. For fourier >= 1e-3.
inline double slab_film(double s, double fourier, double biot) {
  double share = 0.0;
  for (const double b : film_roots(biot, 100))
    share += 2.0 * std::sin(b) / (b + std::sin(b) * std::cos(b)) * std::cos(b * s) * std::exp(-b * b * fourier);
  return share;
}

/// Two half-spaces at T1 and T2 brought together at time 0 through a contact conductance: each surface is that of a
/// half-space with a film of its own (Carslaw & Jaeger 2.7) about the common temperature (e1 T1 + e2 T2)/(e1 + e2).
struct HalfSpaces {
  double e1, e2;      ///< effusivities [W s^0.5/m2K]
  double T1_K, T2_K;  ///< at the start
  double contact_W_m2K;

  double rate() const { return contact_W_m2K * (1.0 / e1 + 1.0 / e2); }  ///< [1/sqrt(s)]
  double met_share(double t_s) const { return 1.0 - scaled_erfc(rate() * std::sqrt(t_s)); }
  double surface1_K(double t_s) const { return T1_K - (T1_K - T2_K) * e2 / (e1 + e2) * met_share(t_s); }
  double surface2_K(double t_s) const { return T2_K + (T1_K - T2_K) * e1 / (e1 + e2) * met_share(t_s); }
  /// Heat from 1 to 2 so far: the flux contact (T1 - T2) scaled_erfc(rate sqrt t), integrated [J/m2].
  double passed_J_m2(double t_s) const {
    const double x = rate() * std::sqrt(t_s);
    return contact_W_m2K * (T1_K - T2_K) / (rate() * rate()) * (2.0 * x / std::sqrt(std::numbers::pi) - met_share(t_s));
  }
  double flux_W_m2(double t_s) const { return contact_W_m2K * (T1_K - T2_K) * scaled_erfc(rate() * std::sqrt(t_s)); }
};

}  // namespace pellicle::reference
