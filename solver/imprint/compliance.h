// How far does the face of a layered, stretched sheet give under a wave of pressure?
//
// docs/theory/press.md. Plane strain along the wave vector, shear-free faces, linear about the stretched state.
#pragma once

#include <vector>

namespace pellicle::imprint {

/// One layer of the sheet as it is now, after stretching.
struct Layer {
  double thickness_m;
  double shear_modulus_Pa;
  double poisson_ratio = 0.5;  ///< 0.5 or less; a stretched sheet must be incompressible
};

/// Bonded layers from the mould's side outwards; all carry the same in-plane stretches.
struct LayerStack {
  std::vector<Layer> layers;
  double stretch_x = 1.0;
  double stretch_y = 1.0;

  double thickness_m() const;
};

/// Throws Error (case) where a thickness, modulus, Poisson's ratio or stretch is not one.
void check(const LayerStack& stack);

/// Single isotropic unstretched layer: C = 2/(E* k) (sinh x cosh x + x)/(sinh^2 x - x^2) with x = k h and
/// E* = 2 G/(1 - nu); below x = 0.05 its series 12 h/(E* x^4) (1 + x^2/5 + 16 x^4/525). Classical (stress function of
/// a strip); the last coefficient is our own expansion [m/Pa].
double isotropic_compliance_m_per_Pa(const Layer& layer, double wave_number_1_m);

/// Single prestretched incompressible neo-Hookean layer (small waves on a large stretch after Biot, Mechanics of
/// Incremental Deformations, 1965; from memory): half the sum of the antisymmetric and the symmetric answer. r is
/// stretch_along, along the wave vector, over stretch_thickness. Negative past an instability [m/Pa].
double biot_compliance_m_per_Pa(double thickness_m, double shear_modulus_Pa, double wave_number_1_m,
                                double stretch_along, double stretch_thickness);

/// The same for a half-space: (1 + r)/(G b k (r^3 + r^2 + 3 r - 1)), b = stretch_thickness^2. Its pole r = 0.2956 is
/// the surface instability [m/Pa].
double biot_half_space_compliance_m_per_Pa(double shear_modulus_Pa, double wave_number_1_m, double stretch_along,
                                           double stretch_thickness);

/// Any stack, for a wave along the angle from x. One layer: the closed forms. More: recursion of surface stiffness in
/// long double, and below k h = 0.05 the sheet in bending and tension, 1/C = T h k^2 + D k^4 (1 + c (k h)^2) with D and
/// c of the recursion at k h = 0.025 and 0.05. Unequal stretches: l_k^2 = lx^2 cos^2 + ly^2 sin^2, exact along x and y.
/// Negative where the sheet is unstable [m/Pa].
double compliance_m_per_Pa(const LayerStack& stack, double wave_number_1_m, double angle_rad);

/// How far the free face goes with the loaded one, displacement over displacement of a wave: a load on one face is half
/// one that moves both together (compliance C_a) and half one that moves them apart (C_s), so (C_a - C_s)/(C_a + C_s).
/// One unstretched layer: (x cosh x + sinh x)/(sinh x cosh x + x), x = k h; 1 - x^4/24 for long waves, 2 (1 + x) e^-x
/// for short ones. More layers: the recursion of compliance_m_per_Pa; 1 below k h = 0.05, 0 past its reach of e^-25.
double free_face_share(const LayerStack& stack, double wave_number_1_m, double angle_rad);

/// Stiffness S = 1/C of a stack for all waves between two wave numbers: cubic in the logarithms between points at most
/// 0.06 apart in ln k, and polynomial in l_k over ten Chebyshev points where the stretches differ. Interpolation is
/// good to 1e-5 (tested). Throws Error (solution) where the sheet is unstable: it would wrinkle without a load.
class StiffnessTable {
 public:
  StiffnessTable(const LayerStack& stack, double least_1_m, double largest_1_m);
  double stiffness_Pa_per_m(double wave_x_1_m, double wave_y_1_m) const;

 private:
  double stiffness_along_line(std::size_t line, std::size_t at, double t) const;

  double first_log_, step_log_;
  std::size_t points_;
  double stretch_x_sq_, stretch_y_sq_;
  std::vector<double> line_stretch_;  // one line where the stretches are equal
  std::vector<double> line_weight_;   // barycentric
  std::vector<std::vector<double>> log_stiffness_;
};

}  // namespace pellicle::imprint
