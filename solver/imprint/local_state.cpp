// In what state is the formed sheet over a patch of fine detail?
#include "solver/imprint/local_state.h"

#include "mesh/check.h"
#include "solver/sheet/heat_layers.h"

#include <Eigen/Geometry>

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

namespace pellicle::imprint {
namespace {

using mesh::Vec2;
using mesh::Vec3;
using Polygon = std::vector<Vec2>;

/// The part of a polygon on the side where (p - at).inward >= 0 (Sutherland and Hodgman, CACM 17 (1974) 32; from
/// memory).
Polygon cut(const Polygon& polygon, const Vec2& at, const Vec2& inward) {
  Polygon kept;
  for (std::size_t k = 0; k < polygon.size(); ++k) {
    const Vec2 &a = polygon[k], &b = polygon[(k + 1) % polygon.size()];
    const double in_a = (a - at).dot(inward), in_b = (b - at).dot(inward);
    if (in_a >= 0.0) kept.push_back(a);
    if ((in_a < 0.0) != (in_b < 0.0)) kept.push_back(a + in_a / (in_a - in_b) * (b - a));
  }
  return kept;
}

struct Covered {
  double area_m2 = 0.0;
  Vec2 centroid_m = Vec2::Zero();
};

Covered covered(const Polygon& polygon) {
  Covered c;
  for (std::size_t k = 1; k + 1 < polygon.size(); ++k) {
    const Vec2 e = polygon[k] - polygon[0], f = polygon[k + 1] - polygon[0];
    const double part = 0.5 * (e.x() * f.y() - e.y() * f.x());
    c.area_m2 += part;
    c.centroid_m += part * (polygon[0] + (e + f) / 3.0);
  }
  if (c.area_m2 > 0.0) c.centroid_m /= c.area_m2;
  return c;
}

/// What of one triangle lies over the patch.
struct Piece {
  double area_m2 = 0.0;            // of the sheet
  Vec3 node_share = Vec3::Zero();  // shape functions in its middle: means of what is linear on the triangle
  Eigen::Matrix2d b = Eigen::Matrix2d::Zero();  // F F^T in the patch's axes
};

std::optional<Piece> piece_over(const forming::FormingResult& f, const mesh::Triangle& t, const PatchFrame& frame) {
  constexpr double kEdgeOn = 1e-6;  // seen from its edge a triangle covers nothing
  std::array<Vec3, 3> x;
  std::array<Vec2, 3> seen, flat;
  for (std::size_t k = 0; k < 3; ++k) {
    x[k] = f.points_m[static_cast<std::size_t>(t[k])] - frame.corner_m;
    seen[k] = {x[k].dot(frame.along_x), x[k].dot(frame.along_y)};
    flat[k] = f.flat_m[static_cast<std::size_t>(t[k])];
  }
  Eigen::Matrix2d edges, bought;
  edges << seen[1] - seen[0], seen[2] - seen[0];
  bought << flat[1] - flat[0], flat[2] - flat[0];
  const double area = 0.5 * (x[1] - x[0]).cross(x[2] - x[0]).norm(), from_above = 0.5 * edges.determinant();
  if (!(from_above > kEdgeOn * area)) return {};  // or seen from below: another wall of the mould
  Polygon polygon(seen.begin(), seen.end());
  polygon = cut(polygon, {0.0, 0.0}, {1.0, 0.0});
  polygon = cut(polygon, {0.0, 0.0}, {0.0, 1.0});
  polygon = cut(polygon, {frame.width_m, frame.length_m}, {-1.0, 0.0});
  polygon = cut(polygon, {frame.width_m, frame.length_m}, {0.0, -1.0});
  const Covered c = covered(polygon);
  if (!(c.area_m2 > 0.0)) return {};
  Piece piece;
  const Vec2 inner = edges.inverse() * (c.centroid_m - seen[0]);
  piece.node_share = {1.0 - inner.sum(), inner.x(), inner.y()};
  const Vec3 middle = piece.node_share[0] * x[0] + piece.node_share[1] * x[1] + piece.node_share[2] * x[2];
  if (std::fabs(middle.dot(frame.normal)) > std::max(frame.width_m, frame.length_m)) return {};
  piece.area_m2 = area * c.area_m2 / from_above;
  const Eigen::Matrix2d F = edges * bought.inverse();  // rows along x and y of the patch
  piece.b = F * F.transpose();
  return piece;
}

/// Area means, as they grow.
struct Sums {
  double area = 0.0, thickness = 0.0, touching = 0.0, touching_pressure = 0.0, touched = 0.0, touched_pressure = 0.0,
         touched_time = 0.0, start_K = 0.0;
  Eigen::Matrix2d b = Eigen::Matrix2d::Zero();
};

}  // namespace

std::optional<FormedState> formed_state(const forming::FormingResult& f, const PatchFrame& frame,
                                        double shear_modulus_Pa) {
  ensure(frame.width_m > 0.0 && frame.length_m > 0.0, "a patch has an area");
  Sums sums;
  FormedState formed;
  formed.thickness_least_m = std::numeric_limits<double>::infinity();
  for (std::size_t m = 0; m < f.triangles.size(); ++m) {
    const auto piece = piece_over(f, f.triangles[m], frame);
    if (!piece) continue;
    sums.area += piece->area_m2;
    sums.thickness += piece->area_m2 * f.triangle_thickness_m[m];
    sums.b += piece->area_m2 * piece->b;
    formed.thickness_least_m = std::min(formed.thickness_least_m, f.triangle_thickness_m[m]);
    formed.thickness_most_m = std::max(formed.thickness_most_m, f.triangle_thickness_m[m]);
    for (std::size_t k = 0; k < 3; ++k) {
      const auto node = static_cast<std::size_t>(f.triangles[m][k]);
      if (std::isnan(f.touched_s[node])) continue;
      const double share = piece->area_m2 * piece->node_share[static_cast<Eigen::Index>(k)];
      sums.touched += share;
      sums.touched_time += share * f.touched_s[node];
      if (f.heat) sums.start_K += share * sheet::start_mean_K(*f.heat, static_cast<int>(node));
      sums.touched_pressure += share * f.pressure_since_Pa[node];
      if (!f.touching[node]) continue;
      sums.touching += share;
      sums.touching_pressure += share * f.pressure_since_Pa[node];
    }
  }
  if (!(sums.touched_pressure > 0.0)) return {};
  // Sheet that has sprung back all over the patch was pressed on it all the same.
  formed.state.pressure_Pa =
      sums.touching > 0.0 ? sums.touching_pressure / sums.touching : sums.touched_pressure / sums.touched;
  if (!(formed.state.pressure_Pa > 0.0)) return {};
  formed.state.thickness_m = sums.thickness / sums.area;
  formed.state.shear_modulus_Pa = shear_modulus_Pa;
  const Eigen::Matrix2d b = sums.b / sums.area;
  formed.state.stretch_x = std::sqrt(b(0, 0));
  formed.state.stretch_y = std::sqrt(b(1, 1));
  formed.larger_stretch_angle_rad = 0.5 * std::atan2(2.0 * b(0, 1), b(0, 0) - b(1, 1));
  formed.touched_s = sums.touched_time / sums.touched;
  formed.start_K = sums.start_K / sums.touched;
  formed.touching_share = sums.touching / sums.area;
  return formed;
}

}  // namespace pellicle::imprint
