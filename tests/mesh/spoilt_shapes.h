// Which surfaces do the tests of inspection share, sound and spoilt in known ways?
#pragma once

#include "mesh/shapes.h"
#include "mesh/triangle_mesh.h"

#include <algorithm>
#include <cmath>
#include <initializer_list>
#include <numbers>
#include <utility>

namespace pellicle::mesh {

/// Several surfaces in one mesh, no points shared.
inline TriangleMesh together(std::initializer_list<TriangleMesh> parts) {
  TriangleMesh all;
  for (const TriangleMesh& part : parts) {
    const int first = static_cast<int>(all.points_m.size());
    all.points_m.insert(all.points_m.end(), part.points_m.begin(), part.points_m.end());
    for (Triangle t : part.triangles) {
      for (int& i : t) i += first;
      all.triangles.push_back(t);
    }
  }
  return all;
}

inline TriangleMesh inside_out(TriangleMesh m) {
  for (Triangle& t : m.triangles) std::swap(t[1], t[2]);
  return m;
}

inline TriangleMesh turned(TriangleMesh m, std::initializer_list<int> which) {
  for (const int e : which)
    std::swap(m.triangles[static_cast<std::size_t>(e)][1], m.triangles[static_cast<std::size_t>(e)][2]);
  return m;
}

inline TriangleMesh without(TriangleMesh m, int triangle) {
  m.triangles.erase(m.triangles.begin() + triangle);
  return m;
}

/// A band that is turned half round before it is closed: one side, one rim.
inline TriangleMesh twisted_band(int steps = 24) {
  TriangleMesh m;
  for (int k = 0; k < steps; ++k)
    for (const double side : {-1.0, 1.0}) {
      const double u = 2.0 * std::numbers::pi * k / steps, r = 0.05 + side * 0.015 * std::cos(0.5 * u);
      m.points_m.push_back({r * std::cos(u), r * std::sin(u), side * 0.015 * std::sin(0.5 * u)});
    }
  for (int k = 0; k < steps; ++k) {
    const int a = 2 * k, b = a + 1, c = k + 1 < steps ? a + 2 : 1, d = k + 1 < steps ? a + 3 : 0;
    m.triangles.push_back({a, b, c});
    m.triangles.push_back({b, d, c});
  }
  return m;
}

/// A box with a fin, one triangle, on an upper edge of it.
inline TriangleMesh with_fin() {
  TriangleMesh m = box({0, 0, 0}, {0.02, 0.01, 0.006});
  // Any edge of the box will do: the first one of its first triangle.
  const Triangle t = m.triangles[0];
  m.points_m.push_back(0.5 * (m.points_m[static_cast<std::size_t>(t[0])] + m.points_m[static_cast<std::size_t>(t[1])]) +
                       Vec3{-0.004, -0.005, -0.003});
  m.triangles.push_back({t[0], t[1], static_cast<int>(m.points_m.size()) - 1});
  return m;
}

/// A round plate of radius `cap` on a post of radius `stem`; the plate's underside is at z = 0.004.
inline TriangleMesh knob(double cap_m, double stem_m, int around = 64) {
  TriangleMesh m;
  const Vec2 section[] = {{cap_m, 0.006}, {cap_m, 0.004}, {stem_m, 0.004}, {stem_m, 0.0}};
  for (const Vec2& s : section)
    for (int k = 0; k < around; ++k) {
      const double u = 2.0 * std::numbers::pi * k / around;
      m.points_m.push_back({s.x() * std::cos(u), s.x() * std::sin(u), s.y()});
    }
  m.points_m.push_back({0, 0, 0.006});
  m.points_m.push_back({0, 0, 0});
  for (int k = 0; k < around; ++k) {
    const int next = (k + 1) % around;
    m.triangles.push_back({k, next, 4 * around});
    for (int s = 0; s < 3; ++s) {
      m.triangles.push_back({s * around + k, (s + 1) * around + k, (s + 1) * around + next});
      m.triangles.push_back({s * around + k, (s + 1) * around + next, s * around + next});
    }
    m.triangles.push_back({3 * around + next, 3 * around + k, 4 * around + 1});
  }
  return m;
}

}  // namespace pellicle::mesh
