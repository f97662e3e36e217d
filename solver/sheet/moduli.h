// How stiff is stretched sheet against a small motion on top? For the scalar twins. docs/theory/time.md, eq. 4.
#pragma once

#include "solver/sheet/polymer.h"

#include <cmath>

namespace pellicle::sheet::scalar {

/// Larger eigenvalue of the symmetric [p, q; q, r].
inline double larger_eigenvalue(double p, double q, double r) {
  return 0.5 * (p + r) + std::sqrt(0.25 * (p - r) * (p - r) + q * q);
}

/// Moduli of the current element [Pa] in its axes of stretch, on the slopes du_i/dx_j of a small motion. Three blocks:
/// du1/dx1 with du2/dx2, [l1^2 W11, l1 l2 W12; ., l2^2 W22]; du2/dx1 with du1/dx2, [l1^2 s, l1^2 s - sigma_1; ., l2^2
/// s] with s = (sigma_1 - sigma_2)/(l1^2 - l2^2); out of the plane sigma_1, sigma_2.
struct Moduli {
  double p, q, r;                   ///< stretching
  double shear1, coupling, shear2;  ///< shearing
  double sigma1, sigma2;

  /// kappa of docs/theory/time.md, (4).
  double largest_Pa() const {
    return std::fmax(std::fmax(larger_eigenvalue(p, q, r), larger_eigenvalue(shear1, coupling, shear2)), sigma1);
  }
};
/// l1 >= l2. Folded: l2 is the natural width l1^-1/2.
template <class Law>
Moduli moduli_Pa(const Law& law, double l1, double l2, bool folded) {
  const PrincipalSlopes w = law.principal(l1, l2);
  const double sigma1 = l1 * w.w1_Pa, x = l1 * l1, y = l2 * l2;
  const double p = x * w.w11_Pa, q = l1 * l2 * w.w12_Pa, r = y * w.w22_Pa;
  const double sigma2 = folded ? 0.0 : l2 * w.w2_Pa;
  // Equal stretches: l1^2 s goes to l (W1 + l (W11 - W12)) / 2.
  const double s = x - y > 1e-6 * x ? (sigma1 - sigma2) / (x - y) : 0.5 * (sigma1 + p - q) / x;
  const Moduli m{p, q, r, x * s, x * s - sigma1, y * s, sigma1, sigma2};
  // Folded, with l2 = l1^-1/2: d/dl1 of W1(l1, l1^-1/2) along the folds, nothing across.
  return folded ? Moduli{p - 0.5 * q, 0.0, 0.0, m.shear1, m.coupling, m.shear2, sigma1, 0.0} : m;
}

}  // namespace pellicle::sheet::scalar
