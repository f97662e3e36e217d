// Where is a point of the sheet against the mould's outline: how far, which way is out, how curved is it there?
#pragma once

#include "solver/imprint/section.h"

#include <Eigen/Core>

#include <vector>

namespace pellicle::imprint {

/// Smooth outline of straight lines and arcs, with its highest point at z = 0. Solid is below it.
class MouldCurve {
 public:
  /// An edge, or a bend of a smooth outline, where the mesh has to be fine.
  struct Edge {
    double x_m, radius_m;
    double slides_m = 0.0;  ///< length of sheet that may slide over it, < 0 if it comes from the left; 0 if it sticks
  };
  struct Near {
    double gap_m;            ///< signed: > 0 open
    Eigen::Vector2d normal;  ///< gradient of the gap
    double curvature_per_m;  ///< Hessian of the gap = curvature * tangent tangent^T
    Eigen::Vector2d place;   ///< nearest point of the mould
  };

  MouldCurve(const SectionProfile& profile, SectionEnds ends, SectionTouch touch = SectionTouch::kStick);

  Near nearest(const Eigen::Vector2d& q) const;
  const std::vector<Edge>& edges() const { return edges_; }  ///< sharp bends towards the sheet, in the profile's range
  double feature_m() const { return feature_m_; }  ///< narrowest distance between edges; without any, shortest wave
  double relief_m() const { return relief_m_; }
  double top_m() const { return top_m_; }  ///< highest point, in the profile's own z

 private:
  struct Piece {
    Eigen::Vector2d a, b;    ///< ends
    Eigen::Vector2d centre;  ///< of an arc
    double radius_m = 0.0;   ///< 0: straight
    double side = 0.0;       ///< +1: solid inside the arc (edge), -1: outside (foot)
    double low_x, high_x;
    // Made of the above by settle_pieces: of a straight one the way along it and its normal, of an arc its ends from
    // the centre.
    Eigen::Vector2d way{0, 0}, normal{0, 0}, first{0, 0}, last{0, 0};
    double way_sq = 0.0;
  };
  void round_off(const std::vector<Eigen::Vector2d>& chain, const SectionProfile& profile, SectionTouch touch);
  void settle_height();
  void settle_pieces();
  static double apart_sq(const Piece& piece, const Eigen::Vector2d& q);  ///< of a point, square of its distance
  static Near near(const Piece& piece, const Eigen::Vector2d& q);

  std::vector<Piece> pieces_;
  std::vector<double> ends_m_, begins_m_;  ///< a piece: largest high_x up to it, least low_x from it on; both rise
  std::vector<Edge> edges_;
  double from_m_ = 0.0, to_m_ = 0.0, feature_m_ = 0.0, relief_m_ = 0.0, top_m_ = 0.0;
};

}  // namespace pellicle::imprint
