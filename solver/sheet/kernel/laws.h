// How does the hot sheet resist being stretched, several elements at once? The laws of polymer.h in lanes.
//
// Formulas and symbols: docs/theory/membrane.md. Every law gives slopes W_a and W_b, energy density, and the slopes in
// the principal stretches. `needs_x` says whether slopes and energy use the principal stretch at all.
#pragma once

#include "solver/sheet/kernel/kernel.h"
#include "solver/sheet/kernel/log_exp.h"

namespace pellicle::sheet::PELLICLE_KERNEL_SET {

/// a = l1^2 + l2^2, b = (l1 l2)^2, x = l1^2.
struct Stretches {
  Lanes a, b, x;
};
struct Slopes {
  Lanes wa_Pa, wb_Pa;
};
struct Principal {
  Lanes w1_Pa, w2_Pa, w11_Pa, w12_Pa, w22_Pa;
};

/// I1 = l1^2 + l2^2 + 1/(l1 l2)^2 or I2 = (l1 l2)^2 + 1/l1^2 + 1/l2^2, and derivatives in the stretches.
struct Invariant {
  Lanes value, d1, d2, d11, d12, d22;
};
inline Invariant first_invariant(Lanes l1, Lanes l2) {
  const Lanes p = 1.0 / (l1 * l1), q = 1.0 / (l2 * l2);
  return {l1 * l1 + l2 * l2 + p * q, 2.0 * l1 - 2.0 * p * q / l1, 2.0 * l2 - 2.0 * p * q / l2,
          2.0 + 6.0 * p * p * q,     4.0 * p * q / (l1 * l2),     2.0 + 6.0 * p * q * q};
}
inline Invariant second_invariant(Lanes l1, Lanes l2) {
  const Lanes p = 1.0 / (l1 * l1), q = 1.0 / (l2 * l2);
  return {l1 * l1 * l2 * l2 + p + q,
          2.0 * l1 * l2 * l2 - 2.0 * p / l1,
          2.0 * l2 * l1 * l1 - 2.0 * q / l2,
          2.0 * l2 * l2 + 6.0 * p * p,
          4.0 * l1 * l2,
          2.0 * l1 * l1 + 6.0 * q * q};
}

struct NeoHookeanLanes {
  static constexpr bool needs_x = false;
  double mu_Pa;

  explicit NeoHookeanLanes(const LawNumbers& n) : mu_Pa(n.modulus_Pa[0]) {}
  Lanes energy_Pa(const Stretches& s) const { return 0.5 * mu_Pa * (s.a + 1.0 / s.b - 3.0); }
  Slopes slopes(const Stretches& s) const { return {splat(0.5 * mu_Pa), -0.5 * mu_Pa / (s.b * s.b)}; }
  Principal principal(Lanes l1, Lanes l2) const {
    const Invariant i = first_invariant(l1, l2);
    const double w = 0.5 * mu_Pa;
    return {w * i.d1, w * i.d2, w * i.d11, w * i.d12, w * i.d22};
  }
};

struct MooneyRivlinLanes {
  static constexpr bool needs_x = false;
  double c10_Pa, c01_Pa;

  explicit MooneyRivlinLanes(const LawNumbers& n) : c10_Pa(n.modulus_Pa[0]), c01_Pa(n.modulus_Pa[1]) {}
  Lanes energy_Pa(const Stretches& s) const {
    return c10_Pa * (s.a + 1.0 / s.b - 3.0) + c01_Pa * (s.b + s.a / s.b - 3.0);
  }
  Slopes slopes(const Stretches& s) const {
    const Lanes per_b = 1.0 / s.b;
    return {c10_Pa + c01_Pa * per_b, -c10_Pa * per_b * per_b + c01_Pa * (1.0 - s.a * per_b * per_b)};
  }
  Principal principal(Lanes l1, Lanes l2) const {
    const Invariant i = first_invariant(l1, l2), j = second_invariant(l1, l2);
    return {c10_Pa * i.d1 + c01_Pa * j.d1, c10_Pa * i.d2 + c01_Pa * j.d2, c10_Pa * i.d11 + c01_Pa * j.d11,
            c10_Pa * i.d12 + c01_Pa * j.d12, c10_Pa * i.d22 + c01_Pa * j.d22};
  }
};

struct YeohLanes {
  static constexpr bool needs_x = false;
  double c10_Pa, c20_Pa, c30_Pa;

  explicit YeohLanes(const LawNumbers& n) : c10_Pa(n.modulus_Pa[0]), c20_Pa(n.modulus_Pa[1]), c30_Pa(n.modulus_Pa[2]) {}
  Lanes energy_Pa(const Stretches& s) const {
    const Lanes i = s.a + 1.0 / s.b - 3.0;
    return i * (c10_Pa + i * (c20_Pa + i * c30_Pa));
  }
  Slopes slopes(const Stretches& s) const {
    const Lanes w = first(s.a + 1.0 / s.b - 3.0);
    return {w, -w / (s.b * s.b)};
  }
  Principal principal(Lanes l1, Lanes l2) const {
    const Invariant i = first_invariant(l1, l2);
    const Lanes w = first(i.value - 3.0), ww = 2.0 * c20_Pa + 6.0 * c30_Pa * (i.value - 3.0);
    return {w * i.d1, w * i.d2, w * i.d11 + ww * i.d1 * i.d1, w * i.d12 + ww * i.d1 * i.d2,
            w * i.d22 + ww * i.d2 * i.d2};
  }
  Lanes first(Lanes i) const { return c10_Pa + i * (2.0 * c20_Pa + 3.0 * c30_Pa * i); }
};

/// A number and what it is one over: x^e for whole e != 0 by multiplication.
struct Whole {
  Lanes x, per_x;
  Lanes power(int e) const {
    const Lanes& factor = e > 0 ? x : per_x;
    Lanes p = factor;
    for (int k = e > 0 ? e : -e; k > 1; --k) p *= factor;
    return p;
  }
  /// x^e - 1, good to the last digits near x = 1 where x - 1 is.
  Lanes power_less_one(int e) const {
    const int size = e > 0 ? e : -e;
    Lanes sum = splat(1.0);
    for (int k = 1; k < size; ++k) sum = sum * x + 1.0;
    const Lanes up = (x - 1.0) * sum;
    return e > 0 ? up : -up * power(e);
  }
};

/// Two logarithms an element and two exponentials a term; none for a term whose alpha is even (LawNumbers::whole). With
/// r = l1/l2, m = log(b)/2, s = log(r), for e = alpha/2,
///   x^e = A E, y^e = A/E, b^-e = A^-2,   A = exp(e m), E = exp(e s).
struct OgdenLanes {
  static constexpr bool needs_x = true;
  const LawNumbers& n;

  explicit OgdenLanes(const LawNumbers& numbers) : n(numbers) {}

  Lanes energy_Pa(const Stretches& t) const {
    const Lanes m = 0.5 * log_of(t.b), s = log_of(t.x) - m;
    const Whole x{t.x, 1.0 / t.x}, y{t.b / t.x, t.x / t.b}, b{t.b, 1.0 / t.b};
    Lanes w{};
    for (int k = 0; k < n.terms; ++k) {
      const double over = n.modulus_Pa[k] / n.alpha[k];
      if (const int whole = n.whole[k]; whole != 0) {
        w += over * (x.power(whole) + y.power(whole) + b.power(-whole) - 3.0);
        continue;
      }
      const double e = 0.5 * n.alpha[k];
      const Lanes A = exponential(e * m).value(), E = exponential(e * s).value();
      w += over * (A * E + A / E + 1.0 / (A * A) - 3.0);
    }
    return w;
  }

  /// (x^e - y^e)/(x - y) = A b^-1/2 R and the same with e - 1 = A b^-1 R', where
  ///   R = sinh(e s)/sinh(s),   R' = sinh((e-1) s)/sinh(s) = R/r - 1/E.
  /// 2 sinh(e s) = (E - 1)(1 + 1/E), and 2 sinh(s) = (r - 1)(1 + 1/r) with s the logarithm of that very r, good to the
  /// last digits near r = 1: so nothing cancels as the stretches draw level. Closer than kEqual they count as so far
  /// apart: R changes by less than (e^2 - 1) kEqual^2/6, 1e-16 for |alpha| up to 40.
  Slopes slopes(const Stretches& t) const {
    constexpr double kEqual = 1e-9;
    const Lanes per_b = 1.0 / t.b, per_root_b = root(per_b);
    const Lanes r = larger(t.x * per_root_b, splat(1.0 + kEqual));
    const Lanes m = 0.5 * log_of(t.b), s = log_of(r);
    const Lanes r_sq_less_one = (r - 1.0) * (r + 1.0), per_both = 1.0 / (r * r_sq_less_one);
    const Lanes per_r = r_sq_less_one * per_both, per_sinh = r * r * per_both;  // 1 / (2 sinh(s))
    const Whole b{t.b, per_b}, root_b{t.b * per_root_b, per_root_b}, of_r{r, per_r};
    Lanes sum_a{}, sum_b{};
    for (int k = 0; k < n.terms; ++k) {
      const double half_mu = 0.5 * n.modulus_Pa[k], e = 0.5 * n.alpha[k];
      if (const int whole = n.whole[k]; whole != 0) {
        const Lanes A = root_b.power(whole), per_E = of_r.power(-whole);
        const Lanes R = of_r.power_less_one(whole) * (1.0 + per_E) * per_sinh;
        sum_a += half_mu * (A * R);
        sum_b += half_mu * (A * (R * per_r - per_E) + b.power(-whole));
        continue;
      }
      const Lanes A = exponential(e * m).value();
      const Exponential power = exponential(e * s);
      const Lanes E = power.value(), A_sq = A * A, per_all = 1.0 / (A_sq * E);
      const Lanes per_E = A_sq * per_all, per_A_sq = E * per_all;
      const Lanes R = power.less_one() * (1.0 + per_E) * per_sinh;
      sum_a += half_mu * (A * R);
      sum_b += half_mu * (A * (R * per_r - per_E) + per_A_sq);
    }
    return {sum_a * per_root_b, -per_b * sum_b};
  }

  Principal principal(Lanes l1, Lanes l2) const {
    const Lanes log1 = log_of(l1), log2 = log_of(l2);
    const Lanes per_l1 = 1.0 / l1, per_l2 = 1.0 / l2;
    const Whole x{l1 * l1, per_l1 * per_l1}, y{l2 * l2, per_l2 * per_l2};
    Lanes w1{}, w2{}, w11{}, w12{}, w22{};
    for (int k = 0; k < n.terms; ++k) {
      const double mu = n.modulus_Pa[k], alpha = n.alpha[k];
      const int whole = n.whole[k];
      const Lanes f1 = whole != 0 ? x.power(whole) : exponential(alpha * log1).value(),
                  f2 = whole != 0 ? y.power(whole) : exponential(alpha * log2).value(),
                  f3 = whole != 0 ? x.power(-whole) * y.power(-whole) : 1.0 / (f1 * f2);
      w1 += mu * (f1 - f3);
      w2 += mu * (f2 - f3);
      w11 += mu * ((alpha - 1.0) * f1 + (alpha + 1.0) * f3);
      w22 += mu * ((alpha - 1.0) * f2 + (alpha + 1.0) * f3);
      w12 += mu * alpha * f3;
    }
    return {w1 * per_l1, w2 * per_l2, w11 * per_l1 * per_l1, w12 * per_l1 * per_l2, w22 * per_l2 * per_l2};
  }
};

/// Calls `pass` with the law; once for many elements.
template <class Pass>
inline void with_law(const LawNumbers& n, Pass&& pass) {
  switch (n.kind) {
    case LawNumbers::kNeoHookean:
      return pass(NeoHookeanLanes(n));
    case LawNumbers::kMooneyRivlin:
      return pass(MooneyRivlinLanes(n));
    case LawNumbers::kYeoh:
      return pass(YeohLanes(n));
    case LawNumbers::kOgden:
      return pass(OgdenLanes(n));
  }
}

}  // namespace pellicle::sheet::PELLICLE_KERNEL_SET
