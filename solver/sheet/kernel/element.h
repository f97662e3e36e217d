// How is an element stretched, and is it taut, folded or slack? Several at once: docs/theory/membrane.md in lanes.
#pragma once

#include "solver/sheet/kernel/laws.h"

namespace pellicle::sheet::PELLICLE_KERNEL_SET {

/// What the elements keep of the flat sheet.
struct RestLanes {
  Lanes m11, m12, m22, inverse_det, volume;
};
inline RestLanes load_rest(const Group::Flat& g, int first) {
  return {load(g.m11_per_m2 + first), load(g.m12_per_m2 + first), load(g.m22_per_m2 + first),
          load(g.inverse_det_per_m4 + first), load(g.volume_m3 + first)};
}

/// Metric of the current edges d1 = x2 - x1, d2 = x3 - x1.
struct Metric {
  Lanes g11, g12, g22;
};
inline Metric metric(const Triple& d1, const Triple& d2) { return {dot(d1, d1), dot(d1, d2), dot(d2, d2)}; }

/// a = tr(M G), b = det G / det G0; x is left at zero.
inline Stretches invariants(const RestLanes& r, const Metric& g) {
  return {r.m11 * g.g11 + 2.0 * r.m12 * g.g12 + r.m22 * g.g22, (g.g11 * g.g22 - g.g12 * g.g12) * r.inverse_det,
          Lanes{}};
}

/// l1^2 = a/2 + sqrt(a^2/4 - b).
inline Lanes larger_square(const Stretches& s) {
  const Lanes half = 0.5 * s.a;
  return half + root(larger(half * half - s.b, Lanes{}));
}

/// Taut where l2 >= l1^-1/2, which is b^2 >= x; of the others folded where x > 1, else slack.
struct Condition {
  Mask taut, folded;
};
inline Condition condition(const Stretches& s) {
  const Mask taut = (s.b > 0.0) & (s.b * s.b >= s.x);
  return {taut, ~taut & (s.x > 1.0)};
}

/// Taut, told without a root: most of a sheet most of the time. b^2 >= x, the larger root of t^2 - a t + b, where b^2
/// lies right of a/2 and the parabola is not below zero there. With a made larger by 1e-6, far above round-off, no
/// element passes that `condition` would call anything else: what an element is does not depend on its neighbours.
inline Mask surely_taut(const Stretches& s) {
  const Lanes a = (1.0 + 1e-6) * s.a, t = s.b * s.b;
  return (t > 0.5 * a) & (t * (t - a) + s.b > 0.0);
}

/// Folded elements at their natural width, l2 = l1^-1/2; the others as they are.
inline Stretches material(const Stretches& s, const Condition& now) {
  const Lanes l1 = root(s.x);
  return {now.folded ? s.x + 1.0 / l1 : s.a, now.folded ? l1 : s.b, s.x};
}

/// W_a and W_b of the relaxed energy. Taut: those of the law. Folded: with y* = 1/l1 the natural width squared, the
/// slope W' = dW/dl1 of the law there is 2 l1 (W_a + W_b y*), and
///   W_a -> W'/(2 l1) x/(x - y),   W_b -> -W'/(2 l1) 1/(x - y).
/// Slack: none.
template <class Law>
inline Slopes relaxed_slopes(const Law& law, Stretches s) {
  if constexpr (!Law::needs_x)
    if (!any(~surely_taut(s))) return law.slopes(s);
  s.x = larger_square(s);
  const Condition now = condition(s);
  if (!any(~now.taut)) return law.slopes(s);
  const Slopes w = law.slopes(material(s, now));
  const Lanes pull = (w.wa_Pa + w.wb_Pa / root(s.x)) / (s.x - s.b / s.x);
  return {now.taut ? w.wa_Pa : (now.folded ? pull * s.x : Lanes{}),
          now.taut ? w.wb_Pa : (now.folded ? -pull : Lanes{})};
}

template <class Law>
inline Lanes relaxed_energy_Pa(const Law& law, Stretches s) {
  s.x = larger_square(s);
  const Condition now = condition(s);
  return (now.taut | now.folded) ? law.energy_Pa(material(s, now)) : Lanes{};
}

}  // namespace pellicle::sheet::PELLICLE_KERNEL_SET
