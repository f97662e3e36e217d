// How is one element stretched, and is it taut, folded or slack? docs/theory/membrane.md, eq. 1 to 3 and 11.
#pragma once

#include "solver/sheet/sheet_state.h"

#include <algorithm>
#include <cmath>

namespace pellicle::sheet {

/// Metric of the current edges d1 = x2 - x1, d2 = x3 - x1.
struct Edges {
  Vec3 d1, d2;
  double g11, g12, g22;
};
inline Edges edges(const SheetState& s, int e) {
  const Triangle& t = s.triangles[static_cast<std::size_t>(e)];
  const auto place = [&](std::size_t corner) -> const Vec3& { return s.x_m[static_cast<std::size_t>(t[corner])]; };
  const Vec3& o = place(0);
  Edges k{place(1) - o, place(2) - o, 0, 0, 0};
  k.g11 = k.d1.squaredNorm();
  k.g12 = k.d1.dot(k.d2);
  k.g22 = k.d2.squaredNorm();
  return k;
}

/// a = tr(M G), b = det G / det G0, and the squared larger stretch x = a/2 + sqrt(a^2/4 - b).
struct Measure {
  double a, b, x;
};
inline Measure measure(const Rest& r, const Edges& k) {
  const double a = r.m11_per_m2 * k.g11 + 2.0 * r.m12_per_m2 * k.g12 + r.m22_per_m2 * k.g22;
  const double b = (k.g11 * k.g22 - k.g12 * k.g12) * r.inverse_det_per_m4;
  const double half = 0.5 * a;
  return {a, b, half + std::sqrt(std::fmax(0.0, half * half - b))};
}

/// Taut where l2 >= l1^-1/2, the natural width of a strip pulled along 1: with b = (l1 l2)^2 that is b >= l1. A
/// triangle shrunk to a point has b = x = 0 and is slack.
enum class Condition { kTaut, kFolded, kSlack };
inline Condition condition(const Measure& m) {
  if (m.b > 0.0 && m.b * m.b >= m.x) return Condition::kTaut;
  return m.x > 1.0 ? Condition::kFolded : Condition::kSlack;
}

/// Folded: the metric with l2 at its natural width y*, G' = (x (G - y G0) + y* (x G0 - G)) / (x - y).
inline void unfold(const Rest& r, const Measure& m, Edges& k) {
  const double det0 = 1.0 / r.inverse_det_per_m4, y = m.b / m.x, natural = 1.0 / std::sqrt(m.x);
  const double keep = (m.x - natural) / (m.x - y), add = m.x * (natural - y) / (m.x - y) * det0;
  k.g11 = keep * k.g11 + add * r.m22_per_m2;  // G0 = adj(M) / det M = det G0 adj(M)
  k.g12 = keep * k.g12 - add * r.m12_per_m2;
  k.g22 = keep * k.g22 + add * r.m11_per_m2;
}

/// Metric of the material in the edges: folds pulled out; slack, what is free of stress. The edges themselves stay.
inline Edges material_edges(const Rest& pull, Edges k) {
  const Measure m = measure(pull, k);
  const Condition now = condition(m);
  if (now == Condition::kFolded) unfold(pull, m, k);
  if (now == Condition::kSlack) {
    const double det0 = 1.0 / pull.inverse_det_per_m4;
    k.g11 = pull.m22_per_m2 * det0, k.g12 = -pull.m12_per_m2 * det0, k.g22 = pull.m11_per_m2 * det0;
  }
  return k;
}

}  // namespace pellicle::sheet
