// What solid does a sheet fill that has a face and a thickness? Both faces and a wall round the rim, closed.
#include "mesh/thicken.h"

#include "mesh/check.h"
#include "mesh/edges.h"

#include <Eigen/Geometry>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <vector>

namespace pellicle::mesh {
namespace {

std::size_t at(int number) { return static_cast<std::size_t>(number); }

/// Twice the area, along the normal.
Vec3 double_area(const std::vector<Vec3>& points, const Triangle& t) {
  return (points[at(t[1])] - points[at(t[0])]).cross(points[at(t[2])] - points[at(t[0])]);
}

std::vector<Vec3> point_normals(const TriangleMesh& face) {
  std::vector<Vec3> normals(face.points_m.size(), Vec3::Zero());
  for (const Triangle& t : face.triangles) {
    const Vec3 normal = double_area(face.points_m, t).normalized();
    for (std::size_t k = 0; k < 3; ++k) {
      const Vec3& here = face.points_m[at(t[k])];
      const Vec3 on = face.points_m[at(t[(k + 1) % 3])] - here, back = face.points_m[at(t[(k + 2) % 3])] - here;
      normals[at(t[k])] += std::atan2(on.cross(back).norm(), on.dot(back)) * normal;
    }
  }
  for (Vec3& normal : normals) normal.normalize();
  return normals;
}

/// Triangles round a point that hang together by edges, each list in the order of the walk.
std::vector<std::vector<int>> fans(const TriangleMesh& face, int point, const std::vector<int>& around) {
  const auto corner_after = [&](int e, std::size_t steps) {
    const Triangle& t = face.triangles[at(e)];
    const auto k = static_cast<std::size_t>(std::find(t.begin(), t.end(), point) - t.begin());
    return t[(k + steps) % 3];
  };
  std::vector<std::vector<int>> found;
  std::vector<char> walked(around.size(), 0);
  const auto walk_from = [&](std::size_t i) {
    std::vector<int>& fan = found.emplace_back();
    for (bool goes_on = true; goes_on;) {
      walked[i] = 1, goes_on = false;
      fan.push_back(around[i]);
      for (std::size_t j = 0; j < around.size() && !goes_on; ++j)
        if (walked[j] == 0 && corner_after(around[j], 1) == corner_after(around[i], 2)) i = j, goes_on = true;
    }
  };
  for (std::size_t i = 0; i < around.size(); ++i) {
    const bool is_first = std::none_of(around.begin(), around.end(),
                                       [&](int e) { return corner_after(e, 2) == corner_after(around[i], 1); });
    if (is_first) walk_from(i);
  }
  for (std::size_t i = 0; i < around.size(); ++i)
    if (walked[i] == 0) walk_from(i);  // all the way round
  return found;
}

/// M, 1 = taken: all corners inside, and no point in which two fans meet.
std::vector<char> taken_triangles(const TriangleMesh& face, std::span<const char> inside) {
  std::vector<char> taken(face.triangles.size(), 0);
  for (std::size_t e = 0; e < taken.size(); ++e) {
    const Triangle& t = face.triangles[e];
    taken[e] = std::all_of(t.begin(), t.end(), [&](int i) { return inside[at(i)] != 0; });
  }
  std::vector<std::vector<int>> around(face.points_m.size());
  for (bool has_changed = true; has_changed;) {  // ends: each round takes triangles away
    has_changed = false;
    for (std::vector<int>& list : around) list.clear();
    for (std::size_t e = 0; e < taken.size(); ++e)
      if (taken[e] != 0)
        for (const int i : face.triangles[e]) around[at(i)].push_back(static_cast<int>(e));
    for (std::size_t i = 0; i < around.size(); ++i) {
      std::erase_if(around[i], [&](int e) { return taken[at(e)] == 0; });
      auto parts = fans(face, static_cast<int>(i), around[i]);
      if (parts.size() < 2) continue;
      std::stable_sort(parts.begin(), parts.end(), [](const auto& a, const auto& b) { return a.size() > b.size(); });
      for (std::size_t k = 1; k < parts.size(); ++k)
        for (const int e : parts[k]) taken[at(e)] = 0;
      has_changed = true;
    }
  }
  return taken;
}

/// New numbers of the points that are used, in their old order; -1: not used.
std::vector<int> numbers_of_used(const TriangleMesh& face, const std::vector<char>& taken) {
  std::vector<int> number(face.points_m.size(), -1);
  for (std::size_t e = 0; e < taken.size(); ++e)
    if (taken[e] != 0)
      for (const int i : face.triangles[e]) number[at(i)] = 0;
  int next = 0;
  for (int& n : number)
    if (n == 0) n = next++;
  return number;
}

/// Whether a triangle lies turned over on the other face (the map between the two planes has a determinant below 0) or,
/// past the centre of a hollow, turned about in its plane (its trace is below 0).
bool is_turned(const std::vector<Vec3>& from, const Triangle& t, const std::vector<Vec3>& to, const Triangle& far) {
  const Vec3 u = from[at(t[1])] - from[at(t[0])], v = from[at(t[2])] - from[at(t[0])], n = u.cross(v);
  const Vec3 far_u = to[at(far[1])] - to[at(far[0])], far_v = to[at(far[2])] - to[at(far[0])];
  return n.dot(far_u.cross(far_v)) <= 0.0 || far_u.dot(v.cross(n)) + far_v.dot(n.cross(u)) <= 0.0;
}

/// By the divergence theorem: a sixth of the sum of a.(b x c), seen from the first point.
double volume_m3(const TriangleMesh& solid) {
  double six_m3 = 0.0;
  for (const Triangle& t : solid.triangles) {
    const Vec3& from = solid.points_m.front();
    six_m3 +=
        (solid.points_m[at(t[0])] - from).dot((solid.points_m[at(t[1])] - from).cross(solid.points_m[at(t[2])] - from));
  }
  return six_m3 / 6.0;
}

}  // namespace

bool is_sheet(const TriangleMesh& face) {
  bool is_one = true;
  Edges(face).for_each([&](int, std::span<const EdgeUse> uses) {
    if (uses.size() > 2 || (uses.size() == 2 && uses[0].up == uses[1].up)) is_one = false;
  });
  return is_one;
}

Thickened thicken(const TriangleMesh& face, std::span<const double> thickness_m, std::span<const char> inside) {
  ensure(thickness_m.size() == face.points_m.size() && inside.size() == face.points_m.size(),
         "every point has a thickness and a side");
  const std::vector<char> taken = taken_triangles(face, inside);
  const std::vector<int> number = numbers_of_used(face, taken);
  const std::vector<Vec3> normals = point_normals(face);
  Thickened out;
  for (std::size_t i = 0; i < number.size(); ++i)
    if (number[i] >= 0) out.solid.points_m.push_back(face.points_m[i]);
  const int beyond = static_cast<int>(out.solid.points_m.size());  // to a point's number on the other face
  for (std::size_t i = 0; i < number.size(); ++i)
    if (number[i] >= 0) out.solid.points_m.emplace_back(face.points_m[i] + thickness_m[i] * normals[i]);

  TriangleMesh near;  // the given face as far as it is taken
  double held_m3 = 0.0;
  for (std::size_t e = 0; e < taken.size(); ++e) {
    if (taken[e] == 0) continue;
    const Triangle& t = face.triangles[e];
    const Triangle far{number[at(t[0])] + beyond, number[at(t[1])] + beyond, number[at(t[2])] + beyond};
    const Vec3 normal = double_area(face.points_m, t);
    out.turned += is_turned(face.points_m, t, out.solid.points_m, far) ? 1 : 0;
    out.face_area_m2 += 0.5 * normal.norm();
    held_m3 += 0.5 * normal.norm() * (thickness_m[at(t[0])] + thickness_m[at(t[1])] + thickness_m[at(t[2])]) / 3.0;
    near.triangles.push_back({far[0] - beyond, far[1] - beyond, far[2] - beyond});
    out.solid.triangles.push_back({far[0] - beyond, far[2] - beyond, far[1] - beyond});
    out.solid.triangles.push_back(far);
  }
  out.face_triangles = static_cast<int>(near.triangles.size());
  if (out.face_triangles == 0) return out;
  near.points_m.assign(out.solid.points_m.begin(), out.solid.points_m.begin() + beyond);
  Edges(near).for_each([&](int low, std::span<const EdgeUse> uses) {
    if (uses.size() != 1) return;
    const int a = uses[0].up ? low : uses[0].other, b = uses[0].up ? uses[0].other : low;  // as its triangle runs it
    out.solid.triangles.push_back({a, b, b + beyond});
    out.solid.triangles.push_back({a, b + beyond, a + beyond});
  });
  out.volume_m3 = volume_m3(out.solid);
  out.mean_thickness_m = held_m3 / out.face_area_m2;
  return out;
}

}  // namespace pellicle::mesh
