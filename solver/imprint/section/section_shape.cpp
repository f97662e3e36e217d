// What does a section at rest say: depth, pressures, the radius left in the corner?
#include "solver/imprint/section/section_shape.h"

#include <Eigen/Dense>

#include <algorithm>
#include <cmath>
#include <span>

namespace pellicle::imprint {
namespace {

using Eigen::Vector2d;

constexpr double kFloorBand = 0.1;  // the lowest tenth of the relief counts as its floor

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// Radius of the circle through these points, least squares in x^2 + z^2 = 2 a x + 2 b z + c.
double circle_radius_m(std::span<const ProfilePoint> arc) {
  const ProfilePoint o = arc[arc.size() / 2];
  const double scale = std::hypot(arc.back().x_m - arc.front().x_m, arc.back().z_m - arc.front().z_m);
  Eigen::MatrixXd rows(static_cast<Eigen::Index>(arc.size()), 3);
  Eigen::VectorXd right(static_cast<Eigen::Index>(arc.size()));
  for (std::size_t k = 0; k < arc.size(); ++k) {
    const double x = (arc[k].x_m - o.x_m) / scale, z = (arc[k].z_m - o.z_m) / scale;
    rows.row(static_cast<Eigen::Index>(k)) << 2 * x, 2 * z, 1.0;
    right[static_cast<Eigen::Index>(k)] = x * x + z * z;
  }
  const Eigen::Vector3d fit = rows.colPivHouseholderQr().solve(right);
  return scale * std::sqrt(std::max(0.0, fit[2] + fit[0] * fit[0] + fit[1] * fit[1]));
}

/// Of the free arcs that end on touched floor, the largest radius.
double corner_radius_m(const SectionResult& result, const std::vector<bool>& touches, double floor_m) {
  double largest = std::numeric_limits<double>::quiet_NaN();
  const auto on_floor = [&](std::size_t k) { return touches[k] && result.underside[k].z_m < floor_m; };
  const std::size_t count = touches.size();
  for (std::size_t begin = 1; begin < count; ++begin) {
    if (touches[begin] || !touches[begin - 1]) continue;
    std::size_t end = begin;
    while (end < count && !touches[end]) ++end;
    if (end == count) break;  // runs out of the section
    if ((on_floor(begin - 1) || on_floor(end)) && end - begin >= 3) {
      const double radius = circle_radius_m(std::span(result.underside).subspan(begin - 1, end - begin + 2));
      largest = std::isnan(largest) ? radius : std::max(largest, radius);
    }
    begin = end;
  }
  return largest;
}

}  // namespace

void describe_section(const SectionModel& model, const SectionSheet& sheet, const Eigen::VectorXd& u,
                      SectionResult& result) {
  const SectionGrid& grid = model.grid();
  const int columns = grid.columns();
  std::vector<Vector2d> face, force(at(columns) + 1, Vector2d::Zero());
  for (int i = 0; i <= columns; ++i) face.push_back(Vector2d(grid.x_m[at(i)], 0.0) + model.move(u, i, 0));
  for (const ContactPlace& place : model.places()) {
    const Vector2d pull = place.weight_m * model.traction_Pa(u, place);
    force[at(place.column)] += (1.0 - place.share) * pull;
    force[at(place.column) + 1] += place.share * pull;
    const double gap = model.mould().nearest(model.underside(u, place)).gap_m;
    result.largest_penetration_m = std::max(result.largest_penetration_m, -gap);
  }
  std::vector<bool> touches;
  double low = 0.0;
  result.relief_depth_m = model.mould().relief_m();
  const double floor_m = model.mould().top_m() - (1.0 - kFloorBand) * result.relief_depth_m;
  for (int i = 0; i <= columns; ++i) {
    const Vector2d q = face[at(i)];
    low = std::min(low, q.y());
    result.underside.push_back({q.x(), q.y() + model.mould().top_m()});
    // Length now of the two halves of columns beside the node; round: times radius.
    double length = 0.0;
    for (const int other : {i - 1, i + 1}) {
      if (other < 0 || other > columns) continue;
      const double radius = model.round() ? (2.0 * q.x() + face[at(other)].x()) / 3.0 : 1.0;
      length += 0.5 * radius * (face[at(other)] - q).norm();
    }
    const double push = force[at(i)].norm();
    result.contact_pressure_Pa.push_back(length > 0.0 ? push / length : 0.0);
    touches.push_back(push > 0.0);
    if (touches.back() && result.relief_depth_m > 0.0 && result.underside.back().z_m < floor_m) {
      result.floor_touched = true;
    }
  }
  result.depth_m = -low;
  result.share = result.relief_depth_m > 0.0 ? result.depth_m / result.relief_depth_m : 0.0;
  result.corner_radius_m = corner_radius_m(result, touches, floor_m);
  result.largest_stretch = model.largest_stretch(u, sheet.stretch_x, sheet.stretch_y);
  result.volume_change = model.volume_change(u);
  result.elements = columns * grid.rows();
}

}  // namespace pellicle::imprint
