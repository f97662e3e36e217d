// How stiff is a cube of elastic material between its eight corners, and how well does it conduct heat?
//
// Corner c of a cube lies at +-1 along x, y, z by bits 0, 1, 2 of c, in (xi, eta, zeta) from its middle.
#pragma once

#include <Eigen/Core>

#include <array>

namespace pellicle::mould {

/// Isotropic, linear.
struct Elastic {
  double modulus_Pa;  ///< Young's
  double poisson;     ///< -1 < nu < 1/2
};

/// Stress or engineering strain: xx, yy, zz, yz, zx, xy.
using Voigt = Eigen::Matrix<double, 6, 1>;
using BrickMatrix = Eigen::Matrix<double, 24, 24>;  ///< corner c, component d: row 3 c + d
using BrickShifts = Eigen::Matrix<double, 24, 1>;
using HeatMatrix = Eigen::Matrix<double, 8, 8>;

/// Stiffness and strains of a cube of edge 1 m; an edge of a multiplies the stiffness by a and divides strains by a.
/// Trilinear, with the three bubbles 1 - xi^2, ... in each component eliminated (incompatible modes: Taylor, Beresford
/// & Wilson, Int. J. Num. Meth. Eng. 10 (1976) 1211; from memory), so that a single cell through a wall bends as a wall
/// does. In a cube their integral of strain vanishes: constant strain is exact.
class Brick {
 public:
  explicit Brick(const Elastic& material);

  const BrickMatrix& stiffness_N_m() const { return stiffness_N_m_; }
  /// Strain at (xi, eta, zeta) from the corners' shifts, bubbles included.
  Voigt strain(const BrickShifts& shifts_m, const Eigen::Vector3d& at) const;
  Voigt stress_Pa(const Voigt& strain) const { return elasticity_Pa_ * strain; }

 private:
  Eigen::Matrix<double, 6, 6> elasticity_Pa_;
  Eigen::Matrix<double, 9, 24> bubbles_;  ///< their sizes from the corners' shifts
  BrickMatrix stiffness_N_m_;
};

/// Trilinear weight of corner c at (xi, eta, zeta).
double corner_weight(int c, const Eigen::Vector3d& at);

/// Conductance of a cube of edge 1 m [W/K]; an edge of a multiplies it by a.
HeatMatrix conductance_W_K(double conductivity_W_mK);

/// The two points a direction of Gauss's rule.
std::array<Eigen::Vector3d, 8> gauss_points();

double von_mises_Pa(const Voigt& stress_Pa);
/// The largest eigenvalue: tension is positive.
double largest_principal_Pa(const Voigt& stress_Pa);
/// On the plane across a unit vector: tension is positive.
double normal_stress_Pa(const Voigt& stress_Pa, const Eigen::Vector3d& across);

}  // namespace pellicle::mould
