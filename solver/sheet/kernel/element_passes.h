// How much energy do elements hold, and how stiff are they? In the order of the sheet, asked for now and then.
#pragma once

#include "solver/sheet/kernel/element.h"

namespace pellicle::sheet::PELLICLE_KERNEL_SET {

/// Up to a group of elements, picked out of the sheet; the last fills up what is missing.
struct Picked {
  alignas(64) double rest[5][kGroup];
  alignas(64) double d1[3][kGroup], d2[3][kGroup];

  Picked(const ElementsView& sheet, int first, int count) {
    for (int k = 0; k < kGroup; ++k) {
      const std::int64_t e = first + (k < count ? k : count - 1);
      const Rest& r = sheet.rest[e];
      rest[0][k] = r.m11_per_m2, rest[1][k] = r.m12_per_m2, rest[2][k] = r.m22_per_m2;
      rest[3][k] = r.inverse_det_per_m4, rest[4][k] = r.volume_m3;
      const int* const t = sheet.triangles + 3 * e;
      const double *const o = sheet.x_m + 3 * std::int64_t{t[0]}, *const p = sheet.x_m + 3 * std::int64_t{t[1]},
                          *const q = sheet.x_m + 3 * std::int64_t{t[2]};
      for (int c = 0; c < 3; ++c) d1[c][k] = p[c] - o[c], d2[c][k] = q[c] - o[c];
    }
  }
  RestLanes rest_lanes(int first) const {
    return {load(rest[0] + first), load(rest[1] + first), load(rest[2] + first), load(rest[3] + first),
            load(rest[4] + first)};
  }
  Metric metric_lanes(int first) const {
    return metric({load(d1[0] + first), load(d1[1] + first), load(d1[2] + first)},
                  {load(d2[0] + first), load(d2[1] + first), load(d2[2] + first)});
  }
};

template <class Law>
inline void energies(const Law& law, const Picked& elements, double* energy_J) {
  for (int first = 0; first < kGroup; first += kLanes) {
    const RestLanes r = elements.rest_lanes(first);
    store(energy_J + first, r.volume * relaxed_energy_Pa(law, invariants(r, elements.metric_lanes(first))));
  }
}

// ---- Stiffness: docs/theory/time.md. The scalar twin, membrane_scalar.cpp, has the reasons.

/// Larger eigenvalue of the symmetric [p, q; q, r].
inline Lanes larger_eigenvalue(Lanes p, Lanes q, Lanes r) {
  return 0.5 * (p + r) + root(0.25 * (p - r) * (p - r) + q * q);
}

/// Moduli in the axes of stretch [Pa]: stretching, shearing, and out of the plane.
struct Moduli {
  Lanes p, q, r;
  Lanes shear1, coupling, shear2;
  Lanes sigma1, sigma2;
};
template <class Law>
inline Moduli moduli_Pa(const Law& law, Lanes l1, Lanes l2, Mask folded) {
  const Principal w = law.principal(l1, l2);
  const Lanes sigma1 = l1 * w.w1_Pa, x = l1 * l1, y = l2 * l2;
  const Lanes p = x * w.w11_Pa, q = l1 * l2 * w.w12_Pa, r = y * w.w22_Pa;
  const Lanes sigma2 = folded ? Lanes{} : l2 * w.w2_Pa;
  const Lanes s = x - y > 1e-6 * x ? (sigma1 - sigma2) / (x - y) : 0.5 * (sigma1 + p - q) / x;
  return {folded ? p - 0.5 * q : p,
          folded ? Lanes{} : q,
          folded ? Lanes{} : r,
          x * s,
          x * s - sigma1,
          y * s,
          sigma1,
          sigma2};
}

/// P = sum of grad N_a grad N_a^T over the three nodes, in the axes of stretch.
struct Gradients {
  Lanes p11_per_m2, p22_per_m2, det_per_m4;
  /// Largest eigenvalue of diag(w1, w2) P, weights below zero left out.
  Lanes weighted(Lanes w1, Lanes w2) const {
    w1 = larger(w1, Lanes{}), w2 = larger(w2, Lanes{});
    const Lanes half = 0.5 * (w1 * p11_per_m2 + w2 * p22_per_m2);
    return half + root(larger(half * half - w1 * w2 * det_per_m4, Lanes{}));
  }
};
inline Gradients gradients(const RestLanes& rest, const Metric& g, Lanes x, Lanes y) {
  const Lanes area4_sq = g.g11 * g.g22 - g.g12 * g.g12;
  const Lanes trace = 2.0 * (g.g11 + g.g22 - g.g12) / area4_sq;
  const Lanes flat = 2.0 * (rest.m11 + rest.m22 + rest.m12);
  const Lanes p11 = x - y > 1e-6 * x ? smaller(trace, larger((flat - y * trace) / (x - y), Lanes{})) : 0.5 * trace;
  return {p11, trace - p11, 3.0 / area4_sq};
}

inline Lanes stiffness_Pa_per_m2(const Moduli& m, const Gradients& g) {
  const Lanes largest =
      larger(larger(larger_eigenvalue(m.p, m.q, m.r), larger_eigenvalue(m.shear1, m.coupling, m.shear2)), m.sigma1);
  const Lanes q = size_of(m.q), c = size_of(m.coupling);
  const Lanes apart = larger(larger(g.weighted(m.p + q, m.shear2 + c), g.weighted(m.shear1 + c, m.r + q)),
                             g.weighted(m.sigma1, m.sigma2));
  return smaller(g.weighted(largest, largest), apart);
}

/// Folded: the metric with l2 at its natural width y*, G' = (x (G - y G0) + y* (x G0 - G)) / (x - y).
inline Metric unfolded(const RestLanes& r, const Stretches& s, const Metric& g, Mask folded) {
  const Lanes y = s.b / s.x, natural = 1.0 / root(s.x);
  const Lanes keep = (s.x - natural) / (s.x - y), add = s.x * (natural - y) / ((s.x - y) * r.inverse_det);
  return {folded ? keep * g.g11 + add * r.m22 : g.g11, folded ? keep * g.g12 - add * r.m12 : g.g12,
          folded ? keep * g.g22 + add * r.m11 : g.g22};
}

template <class Law>
inline void stiffnesses(const Law& law, const Picked& elements, double* stiffness) {
  constexpr double kUnstretched = 1e-6, kNaN = __builtin_nan("");
  for (int first = 0; first < kGroup; first += kLanes) {
    const RestLanes r = elements.rest_lanes(first);
    const Metric g = elements.metric_lanes(first);
    Stretches s = invariants(r, g);
    s.x = larger_square(s);
    const Mask finite = s.x - s.x == 0.0;
    const Mask unstretched = (size_of(s.x - 1.0) < kUnstretched) & (size_of(s.b - 1.0) < kUnstretched);
    Condition now = condition(s);
    now = {now.taut | unstretched, now.folded & ~unstretched};
    const Lanes l1 = root(s.x), l2 = now.folded ? 1.0 / root(l1) : root(s.b / s.x);
    const Lanes value = 3.0 * stiffness_Pa_per_m2(moduli_Pa(law, l1, l2, now.folded),
                                                  gradients(r, unfolded(r, s, g, now.folded), s.x, l2 * l2));
    store(stiffness + first, finite ? ((now.taut | now.folded) ? value : Lanes{}) : splat(kNaN));
  }
}

}  // namespace pellicle::sheet::PELLICLE_KERNEL_SET
