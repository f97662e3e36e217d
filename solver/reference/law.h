// What does a polymer pull with at one pair of stretches? The laws once more, apart from the solver's own.
//
// The solver reduces a law to slopes in a = l1^2 + l2^2 and b = (l1 l2)^2; here it is a function of the principal
// stretches, as the papers write it, with its first and second slopes. The two have no line in common.
#pragma once

#include <functional>
#include <vector>

namespace pellicle::reference {

/// W and its slopes in the in-plane stretches l1, l2; the third stretch is 1/(l1 l2). Pa of unstretched volume.
/// w1 is the nominal stress along 1, w1/l2 times the bought thickness the tension of the stretched sheet.
struct LawPoint {
  double w_Pa, w1_Pa, w2_Pa, w11_Pa, w12_Pa, w22_Pa;
};
using Law = std::function<LawPoint(double l1, double l2)>;

/// W = sum mu/alpha (l1^alpha + l2^alpha + l3^alpha - 3). Ogden, Proc. R. Soc. A 326 (1972) 565 (citation from memory).
struct OgdenTerm {
  double mu_Pa, alpha;
};
Law ogden(std::vector<OgdenTerm> terms);
/// One term, alpha = 2.
Law neo_hookean(double shear_modulus_Pa);
/// W = c10 (I1 - 3) + c01 (I2 - 3): two terms, alpha = 2 and -2.
Law mooney_rivlin(double c10_Pa, double c01_Pa);
/// W = c10 (I1 - 3) + c20 (I1 - 3)^2 + c30 (I1 - 3)^3. Yeoh, Rubber Chem. Technol. 66 (1993) 754 (from memory).
Law yeoh(double c10_Pa, double c20_Pa, double c30_Pa);

/// The law of a sheet that carries no compression: below its natural width l^-1/2 it folds and pulls along l alone;
/// below one both ways it hangs slack. Pipkin, IMA J. Appl. Math. 36 (1986) 85 (citation from memory).
Law tension_field(Law law);

/// Nominal stress along 1 of a strip with free sides, of a sheet stretched both ways, and of a wide strip that keeps
/// its width; and the force per area along 1 for any stretches.
double uniaxial_Pa(const Law& law, double l);
double equibiaxial_Pa(const Law& law, double l);
double pure_shear_Pa(const Law& law, double l);

/// Gauge pressure in a thin balloon of bought radius r0 and thickness h0, from the principle of virtual work:
/// p dV = h0 dW dA0, p = (h0/r0) (dW(l,l)/dl) / l^2. neo-Hookean: 2 (mu h0/r0)(1/l - 1/l^7), largest at l = 7^(1/6).
double balloon_pressure_Pa(const Law& law, double radius_m, double thickness_m, double l);

}  // namespace pellicle::reference
