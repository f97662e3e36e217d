// Which holes of a surface can be closed, so that no sheet slips in?
#include "io/moulds/fill.h"

#include "io/moulds/polygon.h"

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <map>

namespace pellicle::moulds {
namespace {

using mesh::Vec3;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// The loop in the direction in which a triangle that closes it runs: against the surface.
std::vector<int> against_surface(const mesh::TriangleMesh& m, const mesh::Rim& rim) {
  std::vector<int> loop = rim.points;
  const mesh::Triangle& t = m.triangles[at(rim.triangle)];
  for (std::size_t k = 0; k < loop.size(); ++k)
    for (std::size_t c = 0; c < 3; ++c)
      if (loop[k] == t[c] && loop[(k + 1) % loop.size()] == t[(c + 1) % 3]) {
        std::reverse(loop.begin(), loop.end());
        return loop;
      }
  return loop;
}

bool is_simple(std::vector<int> loop) {
  std::sort(loop.begin(), loop.end());
  return std::adjacent_find(loop.begin(), loop.end()) == loop.end();
}

/// Triangles over the loop, by the numbers of its points.
std::vector<mesh::Triangle> lid(const mesh::TriangleMesh& m, const std::vector<int>& loop) {
  if (loop.size() == 3) return {{loop[0], loop[1], loop[2]}};
  std::vector<Vec3> corners;
  std::map<std::array<double, 3>, int> number;
  for (const int i : loop) {
    const Vec3& p = m.points_m[at(i)];
    corners.push_back(p);
    number[{p.x(), p.y(), p.z()}] = i;
  }
  std::vector<Facet> facets;
  PolygonCutter().cut(corners, 0, facets);
  std::vector<mesh::Triangle> triangles;
  for (const Facet& f : facets) {
    mesh::Triangle t;
    for (std::size_t c = 0; c < 3; ++c) t[c] = number.at({f[c].x(), f[c].y(), f[c].z()});
    triangles.push_back(t);
  }
  return triangles;
}

double volume_m3(const mesh::TriangleMesh& m, const mesh::Triangle& t, const Vec3& about) {
  return (m.points_m[at(t[0])] - about).dot((m.points_m[at(t[1])] - about).cross(m.points_m[at(t[2])] - about)) / 6.0;
}

/// Something in what was added goes through what was there.
bool cuts_through(const mesh::TriangleMesh& filled, std::size_t first_added) {
  const mesh::Inspection inspection =
      mesh::inspect(mesh::Nearest(filled), {.crossings = true, .narrow = false, .widest_m = 0.0});
  const auto crosses = [](std::uint16_t marks) {
    return (marks >> static_cast<unsigned>(mesh::Defect::kCrossing) & 1U) != 0;
  };
  return std::any_of(inspection.marks.begin() + static_cast<std::ptrdiff_t>(first_added), inspection.marks.end(),
                     crosses);
}

}  // namespace

Filled fill_holes(const mesh::TriangleMesh& surface, const mesh::Inspection& inspection) {
  std::vector<std::vector<mesh::Triangle>> lids(inspection.rims.size());
  std::vector<double> volume(inspection.bodies.size());
  std::vector<char> can_close(inspection.bodies.size(), 1);
  for (std::size_t k = 0; k < volume.size(); ++k) {
    volume[k] = inspection.bodies[k].volume_m3;
    can_close[k] = inspection.bodies[k].is_one_sided ? 0 : 1;
  }
  for (std::size_t k = 0; k < lids.size(); ++k) {
    const mesh::Rim& rim = inspection.rims[k];
    const int body = inspection.body[at(rim.triangle)];
    if (!rim.is_loop || rim.points.size() < 3 || rim.points.size() > kMostCorners || !is_simple(rim.points)) {
      can_close[at(body)] = 0;
      continue;
    }
    lids[k] = lid(surface, against_surface(surface, rim));
    const Vec3 about = 0.5 * (inspection.bodies[at(body)].low_m + inspection.bodies[at(body)].high_m);
    for (const mesh::Triangle& t : lids[k]) volume[at(body)] += volume_m3(surface, t, about);
  }
  Filled filled{surface, 0, {}};
  for (std::size_t k = 0; k < lids.size(); ++k) {
    const int body = inspection.body[at(inspection.rims[k].triangle)];
    const mesh::Body& b = inspection.bodies[at(body)];
    const double flat_m3 = 1e-6 * std::pow((b.high_m - b.low_m).norm(), 3);  // a flake has no inside
    if (can_close[at(body)] == 0 || !(volume[at(body)] > flat_m3)) {
      if (!filled.open_at_m) filled.open_at_m = inspection.rims[k].centre_m;
      continue;
    }
    filled.mesh.triangles.insert(filled.mesh.triangles.end(), lids[k].begin(), lids[k].end());
    ++filled.closed;
  }
  if (filled.closed > 0 && cuts_through(filled.mesh, surface.triangles.size()))
    return {surface, 0, inspection.rims.front().centre_m};
  return filled;
}

}  // namespace pellicle::moulds
