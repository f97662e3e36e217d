// How thick is the wall predicted where a person measured it? Each measured point on the formed sheet, or why not.
#include "io/compare/points.h"

#include "mesh/check.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

namespace pellicle::compare {
namespace {

/// The place of a point on any formed sheet; triangle -1: a mark beside the flat sheet.
mesh::Spot spot_of(const measured::ThicknessPoint& point, const SheetLookup& sheet) {
  return point.flat_m ? mesh::spot_in_flat(sheet.flat(), *point.flat_m) : mesh::spot_on(sheet.formed(), *point.at_m);
}

mesh::Vec3 on_formed(const mesh::Spot& spot, const mesh::TriangleMesh& face) {
  const mesh::Triangle& t = face.triangles[static_cast<std::size_t>(spot.triangle)];
  mesh::Vec3 place_m = mesh::Vec3::Zero();
  for (std::size_t k = 0; k < 3; ++k) place_m += spot.shares[k] * face.points_m[static_cast<std::size_t>(t[k])];
  return place_m;
}

}  // namespace

SheetLookup::SheetLookup(mesh::TriangleMesh face, std::span<const mesh::Vec2> flat_m, std::vector<double> thickness_m)
    : formed_(std::move(face)),
      flat_(mesh::flat_surface(flat_m, formed_.mesh().triangles)),
      thickness_m_(std::move(thickness_m)) {
  ensure(thickness_m_.size() == formed_.mesh().points_m.size() && flat_m.size() == thickness_m_.size(),
         "a sheet has a thickness and a flat place for each node");
}

PointAnswer answer_at(const measured::ThicknessPoint& point, const SheetLookup& sheet, double within_m) {
  PointAnswer answer;
  answer.point = point;
  const mesh::Spot spot = spot_of(point, sheet);
  if (spot.triangle < 0) {
    answer.left_out = fmt::format("the mark at ({:.3g}, {:.3g}) mm lies beside the flat sheet", 1e3 * point.flat_m->x(),
                                  1e3 * point.flat_m->y());
    answer.distance_m = answer.predicted_m = std::numeric_limits<double>::quiet_NaN();
    return answer;
  }
  answer.place_m = on_formed(spot, sheet.face());
  answer.predicted_m = mesh::value_at(spot, sheet.face().triangles, sheet.thickness_m());
  answer.distance_m = point.at_m ? (*point.at_m - answer.place_m).norm() : std::numeric_limits<double>::quiet_NaN();
  if (!point.flat_m && answer.distance_m > within_m)
    answer.left_out = fmt::format("{:.3g} mm from the sheet", 1e3 * answer.distance_m);
  return answer;
}

std::vector<PointAnswer> answers_at(std::span<const measured::ThicknessPoint> points, const SheetLookup& sheet,
                                    double within_m) {
  ensure(!points.empty(), "a table has a point");
  std::vector<PointAnswer> answers;
  for (const measured::ThicknessPoint& point : points) answers.push_back(answer_at(point, sheet, within_m));
  if (std::none_of(answers.begin(), answers.end(), [](const PointAnswer& a) { return a.counts(); })) {
    throw Error({Fault::Kind::kCase, points.front().place,
                 fmt::format("{}, as all {} points are", answers.front().left_out, points.size()),
                 fmt::format("points within {:.3g} mm of the formed sheet", 1e3 * within_m),
                 "they count in the coordinates of the mould as placed, z = 0 on the platform; --within allows more"});
  }
  return answers;
}

std::vector<fit::Wall> walls_of(std::span<const PointAnswer> answers) {
  std::vector<fit::Wall> walls;
  for (const PointAnswer& a : answers)
    if (a.counts()) walls.push_back({a.predicted_m, a.point.thickness_m, a.point.error_m});
  return walls;
}

std::vector<double> predicted_on(std::span<const PointAnswer> answers, const SheetLookup& otherwise) {
  std::vector<double> predicted_m;
  for (const PointAnswer& a : answers) {
    if (!a.counts()) continue;
    const mesh::Spot spot = spot_of(a.point, otherwise);
    ensure(spot.triangle >= 0, "a sheet of the same outline holds the same marks");
    predicted_m.push_back(mesh::value_at(spot, otherwise.face().triangles, otherwise.thickness_m()));
  }
  return predicted_m;
}

}  // namespace pellicle::compare
