// What does a polymer pull with at one pair of stretches? The laws once more, apart from the solver's own.
#include "solver/reference/law.h"

#include <cmath>
#include <utility>

namespace pellicle::reference {

Law ogden(std::vector<OgdenTerm> terms) {
  return [terms = std::move(terms)](double l1, double l2) {
    LawPoint p{};
    for (const OgdenTerm& t : terms) {
      const double n = t.alpha, f1 = std::pow(l1, n), f2 = std::pow(l2, n), f3 = std::pow(l1 * l2, -n);
      p.w_Pa += t.mu_Pa / n * (f1 + f2 + f3 - 3.0);
      p.w1_Pa += t.mu_Pa * (f1 - f3) / l1;
      p.w2_Pa += t.mu_Pa * (f2 - f3) / l2;
      p.w11_Pa += t.mu_Pa * ((n - 1.0) * f1 + (n + 1.0) * f3) / (l1 * l1);
      p.w22_Pa += t.mu_Pa * ((n - 1.0) * f2 + (n + 1.0) * f3) / (l2 * l2);
      p.w12_Pa += t.mu_Pa * n * f3 / (l1 * l2);
    }
    return p;
  };
}

Law neo_hookean(double shear_modulus_Pa) { return ogden({{shear_modulus_Pa, 2.0}}); }

Law mooney_rivlin(double c10_Pa, double c01_Pa) { return ogden({{2.0 * c10_Pa, 2.0}, {-2.0 * c01_Pa, -2.0}}); }

Law yeoh(double c10_Pa, double c20_Pa, double c30_Pa) {
  const Law invariant = neo_hookean(2.0);  // W = I1 - 3 with its slopes
  return [=](double l1, double l2) {
    const LawPoint i = invariant(l1, l2);
    const double e = i.w_Pa, w = e * (c10_Pa + e * (c20_Pa + e * c30_Pa));
    const double f = c10_Pa + e * (2.0 * c20_Pa + 3.0 * e * c30_Pa), g = 2.0 * c20_Pa + 6.0 * e * c30_Pa;
    return LawPoint{w,
                    f * i.w1_Pa,
                    f * i.w2_Pa,
                    f * i.w11_Pa + g * i.w1_Pa * i.w1_Pa,
                    f * i.w12_Pa + g * i.w1_Pa * i.w2_Pa,
                    f * i.w22_Pa + g * i.w2_Pa * i.w2_Pa};
  };
}

namespace {

/// Pulled along 1 alone: W(l, l^-1/2), whose slope is W1, since W2 = 0 there.
LawPoint folded(const Law& law, double l) {
  const double width = 1.0 / std::sqrt(l);
  const LawPoint p = law(l, width);
  return {p.w_Pa, p.w1_Pa, 0.0, p.w11_Pa - 0.5 * p.w12_Pa * width / l, 0.0, 0.0};
}

}  // namespace

Law tension_field(Law law) {
  return [law = std::move(law)](double l1, double l2) {
    if (l1 >= l2 ? l2 * l2 * l1 >= 1.0 : l1 * l1 * l2 >= 1.0) return law(l1, l2);
    if (l1 <= 1.0 && l2 <= 1.0) return LawPoint{};
    if (l1 >= l2) return folded(law, l1);
    const LawPoint p = folded(law, l2);
    return LawPoint{p.w_Pa, 0.0, p.w1_Pa, 0.0, 0.0, p.w11_Pa};
  };
}

double uniaxial_Pa(const Law& law, double l) { return law(l, 1.0 / std::sqrt(l)).w1_Pa; }
double equibiaxial_Pa(const Law& law, double l) { return law(l, l).w1_Pa; }
double pure_shear_Pa(const Law& law, double l) { return law(l, 1.0).w1_Pa; }

double balloon_pressure_Pa(const Law& law, double radius_m, double thickness_m, double l) {
  return thickness_m / radius_m * 2.0 * law(l, l).w1_Pa / (l * l);
}

}  // namespace pellicle::reference
