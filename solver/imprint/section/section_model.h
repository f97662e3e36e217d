// What energy does a deformed section hold, with its slope and curvature: sheet, gas and contact?
//
// docs/theory/section.md, eqs 1-5. All that acts has a potential, so the tangent is symmetric; the pressure follows the
// deformed face and the ends are held in x.
#pragma once

#include "solver/imprint/section/section_grid.h"

#include <Eigen/Core>
#include <Eigen/SparseCore>

#include <array>
#include <vector>

namespace pellicle::imprint {

// Corners of an element: (i, j), (i+1, j), (i+1, j+1), (i, j+1).
inline constexpr std::array<int, 4> kElementRight{0, 1, 1, 0}, kElementUp{0, 0, 1, 1};

/// A place on the underside that is looked at for contact.
struct ContactPlace {
  int column;
  double share;                  ///< of the way along the column
  double weight_m;               ///< length of face it stands for; round: times its radius
  bool held = false;             ///< sticks to `anchor`
  bool dropped = false;          ///< let go in this load step, so not held again in it
  Eigen::Vector2d anchor{0, 0};  ///< on the mould
};

/// What holds against the load, as unknowns beside the displacements in Newton's method (docs/theory/section.md).
struct Bearing {
  Eigen::VectorXd mean_Pa;  ///< [elements] bulk (J - 1) - a_z
  Eigen::VectorXd push_Pa;  ///< [places] of the mould, never below 0; 0 where a place is held
};

class SectionModel {
 public:
  SectionModel(const SectionGrid& grid, const MouldCurve& mould, SectionPlane plane, SectionEnds ends,
               double penalty_Pa_per_m);

  int unknowns() const { return unknowns_; }
  int node(int i, int j) const { return i * (grid_.rows() + 1) + j; }
  /// Displacement of a node [m] out of the vector of unknowns.
  Eigen::Vector2d move(const Eigen::VectorXd& u, int i, int j) const;
  Eigen::Vector2d underside(const Eigen::VectorXd& u, const ContactPlace& place) const;
  Eigen::Vector2d moved(const Eigen::VectorXd& u, const ContactPlace& place) const;  ///< displacement of a place
  Eigen::VectorXd flat_lowered(double by_m) const;  ///< unknowns of the sheet moved down as a whole
  int unknown(int node, int direction) const { return unknown_[static_cast<std::size_t>(2 * node + direction)]; }

  /// Energy over the flat sheet's [N, round: N m per radian]; infinite if an element is turned inside out.
  double energy(const Eigen::VectorXd& u, double pressure_Pa) const;
  double assemble(const Eigen::VectorXd& u, double pressure_Pa, Eigen::VectorXd& slope,
                  Eigen::SparseMatrix<double>& curvature) const;  ///< lower triangle
  /// The mould at each place that is not held.
  void look(const Eigen::VectorXd& u, std::vector<MouldCurve::Near>& near) const;
  /// What bears at u + way, all being linear in `way`. `near`: the mould at u.
  Bearing bearing(const Eigen::VectorXd& u, const Eigen::VectorXd& way,
                  const std::vector<MouldCurve::Near>& near) const;
  /// Energy near the state where `aim` bears: its slope there is that of `energy`, but bulk modulus and penalty are a
  /// hundredth of what they are, so that a step which leaves a little volume change or penetration behind is not
  /// refused.
  double soft_energy(const Eigen::VectorXd& u, double pressure_Pa, const Bearing& aim) const;
  /// Slope and curvature without the places that are not held, the curvature with `bearing` in place of what belongs
  /// to u; `near` [places]: the mould at each place.
  void assemble_apart(const Eigen::VectorXd& u, double pressure_Pa, const Bearing& bearing, Eigen::VectorXd& slope,
                      Eigen::SparseMatrix<double>& curvature, std::vector<MouldCurve::Near>& near) const;
  /// Adds the push of the places that are not held and `closed`, all gaps being linear about `near`.
  void add_pushes(const std::vector<MouldCurve::Near>& near, const std::vector<char>& closed, Eigen::VectorXd& slope,
                  Eigen::SparseMatrix<double>* curvature) const;
  Eigen::VectorXd gas_slope(const Eigen::VectorXd& u, double pressure_Pa) const;
  Eigen::SparseMatrix<double> pattern() const;

  /// Force of the mould on one contact place, over its weight [Pa].
  Eigen::Vector2d traction_Pa(const Eigen::VectorXd& u, const ContactPlace& place) const;
  /// Largest stretch of the bought sheet over all Gauss points, for a prestretch F0.
  double largest_stretch(const Eigen::VectorXd& u, double stretch_x, double stretch_y) const;
  double volume_change(const Eigen::VectorXd& u) const;  ///< share of the flat sheet's volume

  double largest_gradient(const Eigen::VectorXd& way) const;  ///< norm of its gradient over all Gauss points
  double stiffness(const ContactPlace& place) const { return penalty_ * place.weight_m; }  ///< N/m, round: N/radian

  const SectionGrid& grid() const { return grid_; }
  const MouldCurve& mould() const { return mould_; }
  bool round() const { return round_; }
  std::vector<ContactPlace>& places() { return places_; }
  const std::vector<ContactPlace>& places() const { return places_; }

 private:
  using Vector8 = Eigen::Matrix<double, 8, 1>;
  using Matrix8 = Eigen::Matrix<double, 8, 8>;
  struct GaussPoint {
    const Eigen::Vector4d &n, &nx, &nz;
    double radius_m, weight;  ///< weight: area, round: times radius
  };
  /// Slopes of the four shapes at the two places of Gauss points of a side.
  using SideSlopes = std::array<Eigen::Vector4d, 2>;
  /// What does not change with the displacements: the moduli's part of the curvature, and in a strip that of the volume
  /// between x and z.
  struct FixedParts {
    Eigen::Matrix4d soft, volume_xz;
  };
  /// Of the displacement: xz is its x by Z. hoop: u_x / X, 0 in a strip.
  struct Gradient {
    double xx = 0.0, xz = 0.0, zx = 0.0, zz = 0.0, hoop = 0.0;
    double area_gained() const { return xx + zz + xx * zz - xz * zx; }  ///< share; without the loss of digits of J - 1
  };
  std::array<GaussPoint, 4> gauss(int i, int j) const;
  std::array<Gradient, 4> gradients(int i, int j, const Vector8& u) const;  ///< at the Gauss points
  Vector8 element_moves(const Eigen::VectorXd& u, int i, int j) const;
  /// `mean_Pa`: if not null, of the element; see Bearing.
  template <bool kSlopes>
  double sheet_energy(int i, int j, const Vector8& u, const double* mean_Pa, Vector8& slope, Matrix8& curvature) const;
  template <bool kSlopes>
  double gas_energy(int i, const Vector8& u, double pressure_Pa, Vector8& slope, Matrix8& curvature) const;
  /// `push_Pa`: if not null, of the places. `near`: if not null, takes the mould there, and only held places push.
  template <bool kSlopes>
  double contact_energy(int i, const Vector8& u, const double* push_Pa, MouldCurve::Near* near, Vector8& slope,
                        Matrix8& curvature) const;
  template <bool kSlopes>
  double total(const Eigen::VectorXd& u, double pressure_Pa, const Bearing* bearing, Eigen::VectorXd* slope,
               Eigen::SparseMatrix<double>* curvature, std::vector<MouldCurve::Near>* near) const;
  void add(int i, int j, const Vector8& f, const Matrix8& k, Eigen::VectorXd& slope,
           Eigen::SparseMatrix<double>* curvature) const;
  void settle_shapes();
  void number_unknowns(SectionEnds ends);
  void place_contacts();

  const SectionGrid& grid_;
  const MouldCurve& mould_;
  bool round_;
  double penalty_;
  int unknowns_ = 0;
  std::vector<int> unknown_;          ///< per node and direction; -1 held
  std::vector<ContactPlace> places_;  ///< ordered by column
  std::vector<std::size_t> first_place_;
  std::array<Eigen::Vector4d, 4> shape_;    ///< the four shapes at each Gauss point
  std::vector<SideSlopes> by_x_, by_z_;     ///< of a column along x at its lower and upper points, of a row along z
  std::vector<FixedParts> fixed_;           ///< per element
  std::vector<std::array<int, 64>> slots_;  ///< per element: where its entries stand in the curvature; -1 nowhere
};

}  // namespace pellicle::imprint
