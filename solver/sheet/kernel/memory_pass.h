// What do modes forget in a step, and what do they bring into the next? Several elements at once.
//
// docs/theory/relaxation.md, eq. 3 to 6. The scalar twin, relaxation.cpp, has the reasons.
#pragma once

#include "solver/sheet/kernel/log_exp.h"

namespace pellicle::sheet::PELLICLE_KERNEL_SET {

/// w1 = 1 - (1 - e^-x)/x, w0 = (1 - e^-x)/x - e^-x of the steps per relaxation time x >= 0, infinity too.
struct Weights {
  Lanes w0, w1;
};
inline Weights weights(Lanes x) {
  constexpr double kSeries = 0.1;  // below: w1 = sum (-1)^(k+1) x^k/(k+1)!, w0 the same with k; cut after x^10
  // 1/(k+1)! for k = 1 to 10.
  constexpr double kShares[] = {1.0 / 2.0,    1.0 / 6.0,     1.0 / 24.0,     1.0 / 120.0,     1.0 / 720.0,
                                1.0 / 5040.0, 1.0 / 40320.0, 1.0 / 362880.0, 1.0 / 3628800.0, 1.0 / 39916800.0};
  const Mask few = x < kSeries;
  Lanes s0{}, s1{};
  for (int k = 10; k >= 1; --k) {
    s0 = k * kShares[k - 1] - x * s0;
    s1 = kShares[k - 1] - x * s1;
  }
  const Exponential left = exponential(-x);
  const Lanes mean = -left.less_one() / (few ? splat(1.0) : x);
  return {few ? x * s0 : mean - left.value(), few ? x * s1 : 1.0 - mean};
}

/// log(1 + y), good to the last digits near y = 0.
inline Lanes log_of_one_and(Lanes y) {
  const Lanes sum = 1.0 + y;
  return log_of(sum) + (y - (sum - 1.0)) / sum;
}

/// N or the inverse of a metric, in the edge basis; the fourth is N33 or b.
struct Inverse {
  Lanes n11, n12, n22, n33;
  Lanes det() const { return n11 * n22 - n12 * n12; }
  Lanes product(const Inverse& g) const { return n11 * g.n11 + 2.0 * n12 * g.n12 + n22 * g.n22; }
};
inline Inverse load_inverse(const double* four) {
  return {load(four), load(four + kGroup), load(four + 2 * kGroup), load(four + 3 * kGroup)};
}
inline void store(double* four, const Inverse& n) {
  store(four, n.n11), store(four + kGroup, n.n12), store(four + 2 * kGroup, n.n22), store(four + 3 * kGroup, n.n33);
}
/// Of a symmetric 2x2; the fourth is one over the fourth.
inline Inverse inverse_of(const Inverse& a) {
  const Lanes det = a.det();
  return {a.n22 / det, -a.n12 / det, a.n11 / det, 1.0 / a.n33};
}
inline Lanes mixed(Lanes value, const Weights& w, Lanes a0, Lanes a1) {
  return value + (w.w0 * (a0 - value) + w.w1 * (a1 - value));
}
inline Inverse updated(const Inverse& n, const Weights& w, const Inverse& from, const Inverse& to) {
  return {mixed(n.n11, w, from.n11, to.n11), mixed(n.n12, w, from.n12, to.n12), mixed(n.n22, w, from.n22, to.n22),
          mixed(n.n33, w, from.n33, to.n33)};
}

inline void remember_group(const ModesView& m, const double* metric, const double* inverse_det, const double* reduced_s,
                           double* lost_Pa, double* energy_Pa) {
  for (int k = 0; k < kGroup; k += kLanes) {
    Inverse now{load(metric + k), load(metric + kGroup + k), load(metric + 2 * kGroup + k), Lanes{}};
    const Lanes flat = load(inverse_det + k), b = now.det() * flat;
    now.n33 = 1.0 / b;  // as inverse_of: G and 1/b from their inverses
    const Inverse from = load_inverse(m.last + k), before = inverse_of(from);
    Inverse to = inverse_of(now);
    to.n33 = b;
    const Inverse mean{0.5 * (before.n11 + now.n11), 0.5 * (before.n12 + now.n12), 0.5 * (before.n22 + now.n22),
                       0.5 * (before.n33 + now.n33)};
    const Lanes step_s = load(reduced_s + k);
    Lanes lost{}, energy{};
    for (int j = 0; j < m.modes; ++j) {
      double* const place = m.lanes + j * 4 * kGroup + k;
      const Inverse old = load_inverse(place), n = updated(old, weights(step_s / m.time_s[j]), from, to);
      const Inverse change{n.n11 - old.n11, n.n12 - old.n12, n.n22 - old.n22, n.n33 - old.n33};
      // det N - det N_old without cancellation, for the logarithm of a ratio near one.
      const Lanes of_det = change.n11 * n.n22 + old.n11 * change.n22 - change.n12 * (n.n12 + old.n12);
      const Lanes u = of_det / old.det(), v = change.n33 / old.n33;
      lost -= 0.5 * m.modulus_Pa[j] * (change.product(mean) + change.n33 * mean.n33 - log_of_one_and(u + v + u * v));
      energy += 0.5 * m.modulus_Pa[j] * (n.product(now) + n.n33 * now.n33 - 3.0 - log_of(n.det() / flat * n.n33));
      store(place, n);
    }
    store(m.last + k, to);
    store(lost_Pa + k, lost);
    store(energy_Pa + k, energy);
  }
}

inline void carry_group(const ModesView& m, const double* reduced_s, double* sums) {
  for (int k = 0; k < kGroup; k += kLanes) {
    const Inverse from = load_inverse(m.last + k);
    const Lanes step_s = load(reduced_s + k);
    Inverse sum{};
    for (int j = 0; j < m.modes; ++j) {
      const Inverse n =
          updated(load_inverse(m.lanes + j * 4 * kGroup + k), weights(step_s / m.time_s[j]), from, Inverse{});
      const double g = m.modulus_Pa[j];
      sum = {sum.n11 + g * n.n11, sum.n12 + g * n.n12, sum.n22 + g * n.n22, sum.n33 + g * n.n33};
    }
    store(sums + k, sum);
  }
}

}  // namespace pellicle::sheet::PELLICLE_KERNEL_SET
