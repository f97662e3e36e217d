// Where does a surface cut through itself?
//
// Two triangles cross if each has corners on both sides of the other's plane, by more than round-off, and the stretches
// that they cut out of the line common to both planes overlap by more than round-off. What only touches, lies in one
// plane or shares an edge does not, nor do surfaces that cross along edges of both and nowhere else.
#include "mesh/inspect_parts.h"

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <limits>

namespace pellicle::mesh::inspect_parts {
namespace {

struct Plane {
  Vec3 normal = Vec3::Zero(), foot_m;
  explicit Plane(const Corners& t) : foot_m(t.a) {
    const Vec3 cross = (t.b - t.a).cross(t.c - t.a);
    if (const double twice = cross.norm(); twice > 0.0) normal = cross / twice;
  }
};

/// What the triangle cuts out of the line along `way` in the plane; empty (low > high) unless it stands on both sides.
struct Stretch {
  double low_m = std::numeric_limits<double>::infinity(), high_m = -low_m;

  Stretch(const Corners& t, const Plane& plane, const Vec3& way, double round_off_m) {
    const std::array<Vec3, 3> p{t.a, t.b, t.c};
    std::array<double, 3> height;
    for (std::size_t k = 0; k < 3; ++k) height[k] = plane.normal.dot(p[k] - plane.foot_m);
    if (!(*std::min_element(height.begin(), height.end()) < -round_off_m) ||
        !(*std::max_element(height.begin(), height.end()) > round_off_m))
      return;
    for (std::size_t k = 0; k < 3; ++k) {
      const std::size_t next = (k + 1) % 3;
      if (height[k] * height[next] < 0.0)
        add(way.dot(p[k] + (p[next] - p[k]) * (height[k] / (height[k] - height[next]))));
      else if (height[k] == 0.0)
        add(way.dot(p[k]));
    }
  }
  void add(double x_m) { low_m = std::min(low_m, x_m), high_m = std::max(high_m, x_m); }
};

bool cross(const Corners& s, const Plane& of_s, const Corners& t, double round_off_m) {
  const Plane of_t(t);
  const Vec3 way = of_s.normal.cross(of_t.normal);
  if (!(way.squaredNorm() > 1e-12)) return false;
  const Vec3 along = way.normalized();
  const Stretch a(s, of_t, along, round_off_m), b(t, of_s, along, round_off_m);
  return std::min(a.high_m, b.high_m) - std::max(a.low_m, b.low_m) > round_off_m;
}

int shared_corners(const Triangle& s, const Triangle& t) {
  int count = 0;
  for (const int i : s) count += i == t[0] || i == t[1] || i == t[2] ? 1 : 0;
  return count;
}

}  // namespace

std::vector<char> crossings(const Nearest& surface, std::span<const char> left_out, double round_off_m) {
  const TriangleMesh& m = surface.mesh();
  std::vector<char> marks(m.triangles.size(), 0);
#pragma omp parallel
  {
    std::vector<int> near, own;
#pragma omp for schedule(dynamic, 1024) nowait
    for (int e = 0; e < static_cast<int>(m.triangles.size()); ++e) {
      if (left_out[at(e)] != 0) continue;
      const Corners s = corners(m, e);
      const Plane plane(s);
      near.clear();
      surface.in_box(s.a.cwiseMin(s.b).cwiseMin(s.c), s.a.cwiseMax(s.b).cwiseMax(s.c), near);
      for (const int other : near) {
        if (other <= e || left_out[at(other)] != 0) continue;
        if (shared_corners(m.triangles[at(e)], m.triangles[at(other)]) > 1) continue;
        if (cross(s, plane, corners(m, other), round_off_m)) own.push_back(e), own.push_back(other);
      }
    }
#pragma omp critical(pellicle_crossings)
    for (const int e : own) marks[at(e)] = 1;
  }
  return marks;
}

}  // namespace pellicle::mesh::inspect_parts
