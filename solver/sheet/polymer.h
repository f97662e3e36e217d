// How does the hot sheet resist being stretched? Hyperelastic laws, reduced to what a membrane element asks of them.
//
// An isotropic law of an incompressible membrane depends on the in-plane stretches l1, l2 through two numbers,
//   a = l1^2 + l2^2,   b = (l1 l2)^2,   thickness = h0 / sqrt(b).
// The element needs only dW/da and dW/db (docs/theory/membrane.md, eq. 4); the stable step needs the second derivatives
// in the stretches. Adding a law: write the struct, add it to Polymer, add its kind in io/case; shared tests drive it.
#pragma once

#include <array>
#include <cmath>
#include <variant>

namespace pellicle::sheet {

/// In-plane stretch of the membrane. Unstretched: a = 2, b = 1. b > 0 always.
struct Stretch {
  double a;  ///< l1^2 + l2^2 [-]
  double b;  ///< (l1 l2)^2 [-]
};

/// Slopes of the stored energy density over the unstretched volume.
struct EnergySlope {
  double wa_Pa;  ///< dW/da [Pa]
  double wb_Pa;  ///< dW/db [Pa]
};

/// First and second derivatives of W(l1, l2): nominal stresses and their slopes.
struct PrincipalSlopes {
  double w1_Pa, w2_Pa;
  double w11_Pa, w12_Pa, w22_Pa;
};

/// Derivatives of I1 = l1^2 + l2^2 + 1/(l1 l2)^2 or of I2 = (l1 l2)^2 + 1/l1^2 + 1/l2^2 in the stretches.
struct InvariantSlopes {
  double value, d1, d2, d11, d12, d22;
};
inline InvariantSlopes first_invariant(double l1, double l2) {
  const double p = 1.0 / (l1 * l1), q = 1.0 / (l2 * l2);
  return {l1 * l1 + l2 * l2 + p * q, 2.0 * l1 - 2.0 * p * q / l1, 2.0 * l2 - 2.0 * p * q / l2,
          2.0 + 6.0 * p * p * q,     4.0 * p * q / (l1 * l2),     2.0 + 6.0 * p * q * q};
}
inline InvariantSlopes second_invariant(double l1, double l2) {
  const double p = 1.0 / (l1 * l1), q = 1.0 / (l2 * l2);
  return {l1 * l1 * l2 * l2 + p + q,
          2.0 * l1 * l2 * l2 - 2.0 * p / l1,
          2.0 * l2 * l1 * l1 - 2.0 * q / l2,
          2.0 * l2 * l2 + 6.0 * p * p,
          4.0 * l1 * l2,
          2.0 * l1 * l1 + 6.0 * q * q};
}

/// W = mu/2 (I1 - 3), I1 = a + 1/b. Treloar, Trans. Faraday Soc. 39 (1943) 241 (citation from memory).
struct NeoHookean {
  double shear_modulus_Pa;

  double energy_Pa(Stretch s) const { return 0.5 * shear_modulus_Pa * (s.a + 1.0 / s.b - 3.0); }

  EnergySlope slope(Stretch s) const { return {0.5 * shear_modulus_Pa, -0.5 * shear_modulus_Pa / (s.b * s.b)}; }

  PrincipalSlopes principal(double l1, double l2) const {
    const InvariantSlopes i = first_invariant(l1, l2);
    const double w = 0.5 * shear_modulus_Pa;
    return {w * i.d1, w * i.d2, w * i.d11, w * i.d12, w * i.d22};
  }

  double small_strain_shear_modulus_Pa() const { return shear_modulus_Pa; }
};

/// W = c10 (I1 - 3) + c01 (I2 - 3), I2 = b + a/b. Mooney, J. Appl. Phys. 11 (1940) 582 (citation from memory).
struct MooneyRivlin {
  double c10_Pa;
  double c01_Pa;

  double energy_Pa(Stretch s) const { return c10_Pa * (s.a + 1.0 / s.b - 3.0) + c01_Pa * (s.b + s.a / s.b - 3.0); }

  EnergySlope slope(Stretch s) const {
    const double per_b = 1.0 / s.b;
    return {c10_Pa + c01_Pa * per_b, -c10_Pa * per_b * per_b + c01_Pa * (1.0 - s.a * per_b * per_b)};
  }

  PrincipalSlopes principal(double l1, double l2) const {
    const InvariantSlopes i = first_invariant(l1, l2), j = second_invariant(l1, l2);
    return {c10_Pa * i.d1 + c01_Pa * j.d1, c10_Pa * i.d2 + c01_Pa * j.d2, c10_Pa * i.d11 + c01_Pa * j.d11,
            c10_Pa * i.d12 + c01_Pa * j.d12, c10_Pa * i.d22 + c01_Pa * j.d22};
  }

  double small_strain_shear_modulus_Pa() const { return 2.0 * (c10_Pa + c01_Pa); }
};

/// W = c10 (I1-3) + c20 (I1-3)^2 + c30 (I1-3)^3. Yeoh, Rubber Chem. Technol. 66 (1993) 754 (citation from memory).
struct Yeoh {
  double c10_Pa;
  double c20_Pa;
  double c30_Pa;

  double energy_Pa(Stretch s) const {
    const double i = s.a + 1.0 / s.b - 3.0;
    return i * (c10_Pa + i * (c20_Pa + i * c30_Pa));
  }

  EnergySlope slope(Stretch s) const {
    const double w = first(s.a + 1.0 / s.b - 3.0);
    return {w, -w / (s.b * s.b)};
  }

  PrincipalSlopes principal(double l1, double l2) const {
    const InvariantSlopes i = first_invariant(l1, l2);
    const double w = first(i.value - 3.0), ww = 2.0 * c20_Pa + 6.0 * c30_Pa * (i.value - 3.0);
    return {w * i.d1, w * i.d2, w * i.d11 + ww * i.d1 * i.d1, w * i.d12 + ww * i.d1 * i.d2,
            w * i.d22 + ww * i.d2 * i.d2};
  }

  double small_strain_shear_modulus_Pa() const { return 2.0 * c10_Pa; }

 private:
  double first(double i) const { return c10_Pa + i * (2.0 * c20_Pa + 3.0 * c30_Pa * i); }
};

/// W = sum mu/alpha (l1^alpha + l2^alpha + (l1 l2)^-alpha - 3). Ogden, Proc. R. Soc. A 326 (1972) 565 (from memory).
struct Ogden {
  static constexpr int kMostTerms = 6;
  int terms;
  std::array<double, kMostTerms> mu_Pa;
  std::array<double, kMostTerms> alpha;

  double energy_Pa(Stretch s) const {
    const auto [x, y] = squares(s);
    double w = 0.0;
    for (int k = 0; k < terms; ++k) {
      const double e = 0.5 * alpha[at(k)];
      w += mu_Pa[at(k)] / alpha[at(k)] * (std::pow(x, e) + std::pow(y, e) + std::pow(s.b, -e) - 3.0);
    }
    return w;
  }

  /// With x = l1^2, y = l2^2, e = alpha/2 the slopes are divided differences of x^e and x^(e-1) between x and y. Closer
  /// than kSeriesSpread = (x-y)/(x+y) they are summed as a series: cut after the sixth power of the spread, an error
  /// below 1e-13 for |alpha| <= 8; cancellation outside below 1e-14 / kSeriesSpread. Both relative to mu.
  EnergySlope slope(Stretch s) const {
    const auto [x, y] = squares(s);
    EnergySlope sum{0.0, 0.0};
    for (int k = 0; k < terms; ++k) {
      const double half_mu = 0.5 * mu_Pa[at(k)], e = 0.5 * alpha[at(k)];
      sum.wa_Pa += half_mu * divided_power(x, y, e);
      sum.wb_Pa -= half_mu * (divided_power(x, y, e - 1.0) + std::pow(s.b, -e - 1.0));
    }
    return sum;
  }

  PrincipalSlopes principal(double l1, double l2) const {
    PrincipalSlopes p{0.0, 0.0, 0.0, 0.0, 0.0};
    for (int k = 0; k < terms; ++k) {
      const double m = mu_Pa[at(k)], n = alpha[at(k)];
      const double f1 = std::pow(l1, n), f2 = std::pow(l2, n), f3 = std::pow(l1 * l2, -n);
      p.w1_Pa += m * (f1 - f3) / l1;
      p.w2_Pa += m * (f2 - f3) / l2;
      p.w11_Pa += m * ((n - 1.0) * f1 + (n + 1.0) * f3) / (l1 * l1);
      p.w22_Pa += m * ((n - 1.0) * f2 + (n + 1.0) * f3) / (l2 * l2);
      p.w12_Pa += m * n * f3 / (l1 * l2);
    }
    return p;
  }

  double small_strain_shear_modulus_Pa() const {
    double g = 0.0;
    for (int k = 0; k < terms; ++k) g += 0.5 * mu_Pa[at(k)] * alpha[at(k)];
    return g;
  }

 private:
  static constexpr double kSeriesSpread = 0.01;
  static std::size_t at(int k) { return static_cast<std::size_t>(k); }
  struct Squares {
    double x, y;
  };
  static Squares squares(Stretch s) {
    const double half = 0.5 * s.a, spread = std::sqrt(std::fmax(0.0, half * half - s.b));
    const double x = half + spread;
    return {x, s.b / x};  // no cancellation in the smaller one
  }
  /// (x^e - y^e) / (x - y), also for x = y.
  static double divided_power(double x, double y, double e) {
    const double c = 0.5 * (x + y), u = 0.5 * (x - y) / c;
    if (std::fabs(u) > kSeriesSpread) return (std::pow(x, e) - std::pow(y, e)) / (x - y);
    const double u2 = u * u;
    const double sixth = 1.0 + (e - 5.0) * (e - 6.0) * u2 / 42.0,
                 fourth = 1.0 + (e - 3.0) * (e - 4.0) * u2 / 20.0 * sixth;
    return std::pow(c, e - 1.0) * e * (1.0 + (e - 1.0) * (e - 2.0) * u2 / 6.0 * fourth);
  }
};

/// Closed set of laws. Visited once per stage call, never per element.
using Polymer = std::variant<NeoHookean, MooneyRivlin, Yeoh, Ogden>;

inline double small_strain_shear_modulus_Pa(const Polymer& polymer) {
  return std::visit([](const auto& law) { return law.small_strain_shear_modulus_Pa(); }, polymer);
}

}  // namespace pellicle::sheet
