// What is the integral of a smooth function, to a tolerance?
#pragma once

#include <cmath>

namespace pellicle::air {

/// One interval of Simpson's rule with its middle.
struct SimpsonSpan {
  double a, b, fa, fm, fb;
  double sum() const { return (b - a) / 6.0 * (fa + 4.0 * fm + fb); }
};

/// Adaptive Simpson: halves until both halves agree with the whole to 15 times the tolerance (Lyness, J. ACM 16 (1969)
/// 483; from memory). Kinks cost halvings, no accuracy.
template <class F>
double adaptive_simpson(const F& f, const SimpsonSpan& s, double tolerance, int halvings) {
  const double m = 0.5 * (s.a + s.b);
  const SimpsonSpan left{s.a, m, s.fa, f(0.5 * (s.a + m)), s.fm}, right{m, s.b, s.fm, f(0.5 * (m + s.b)), s.fb};
  const double both = left.sum() + right.sum(), off = both - s.sum();
  if (halvings == 0 || std::fabs(off) <= 15.0 * tolerance) return both + off / 15.0;
  return adaptive_simpson(f, left, 0.5 * tolerance, halvings - 1) +
         adaptive_simpson(f, right, 0.5 * tolerance, halvings - 1);
}

/// From a to b, to 1e-10 of itself.
template <class F>
double integral(const F& f, double a, double b) {
  constexpr double kRelative = 1e-10;
  constexpr int kMostHalvings = 40;
  const SimpsonSpan whole{a, b, f(a), f(0.5 * (a + b)), f(b)};
  return adaptive_simpson(f, whole, kRelative * std::fabs(whole.sum()), kMostHalvings);
}

}  // namespace pellicle::air
