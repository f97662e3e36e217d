// On which surfaces, and from which points, are searches tried? Sound and sick meshes, easy and awkward questions.
#pragma once

#include "mesh/nearest.h"
#include "mesh/shapes.h"

#include <Eigen/Geometry>

#include <cmath>
#include <limits>
#include <random>
#include <string>
#include <vector>

namespace pellicle::mesh {

constexpr double kInfinity = std::numeric_limits<double>::infinity();
constexpr double kEps = std::numeric_limits<double>::epsilon();

class Dice {
 public:
  explicit Dice(unsigned seed) : engine_(seed) {}
  double in(double low, double high) { return low + (high - low) * static_cast<double>(engine_()) / 4294967296.0; }
  Vec3 cube(double half) { return {in(-half, half), in(-half, half), in(-half, half)}; }
  int below(int n) { return static_cast<int>(engine_() % static_cast<unsigned>(n)); }
  Vec3 direction() {
    for (;;) {
      const Vec3 d = cube(1.0);
      if (d.norm() > 0.1 && d.norm() < 1.0) return d.normalized();
    }
  }

 private:
  std::mt19937 engine_;
};

inline const Vec3& corner(const TriangleMesh& m, std::size_t t, std::size_t k) {
  return m.points_m[static_cast<std::size_t>(m.triangles[t][k])];
}

/// Exactly flat, which is all that the meshes below have besides sound triangles and needles.
inline bool is_flat(const TriangleMesh& m, std::size_t t) {
  return (corner(m, t, 1) - corner(m, t, 0)).cross(corner(m, t, 2) - corner(m, t, 0)).isZero(0.0);
}

inline TriangleMesh soup(unsigned seed, int count, const Vec3& centre) {
  Dice dice(seed);
  TriangleMesh m;
  for (int i = 0; i < count; ++i) {
    const double size = std::pow(10.0, dice.in(-4.0, 0.0));
    const Vec3 at = centre + dice.cube(1.0);
    for (int k = 0; k < 3; ++k) m.points_m.push_back(at + size * dice.cube(1.0));
    m.triangles.push_back({3 * i, 3 * i + 1, 3 * i + 2});
  }
  return m;
}

/// A lattice in whole numbers: most queries have many triangles at exactly the same distance.
inline TriangleMesh lattice(int n) {
  TriangleMesh m;
  for (int j = 0; j <= n; ++j) {
    for (int i = 0; i <= n; ++i) m.points_m.emplace_back(i, j, (i * j) % 2);
  }
  for (int j = 0; j < n; ++j) {
    for (int i = 0; i < n; ++i) {
      const int a = j * (n + 1) + i;
      m.triangles.push_back({a, a + 1, a + n + 2});
      m.triangles.push_back({a, a + n + 2, a + n + 1});
    }
  }
  return m;
}

/// Sound triangles mixed with points, lines, doubles and needles.
inline TriangleMesh sick() {
  TriangleMesh m = soup(7, 60, Vec3::Zero());
  const int first = static_cast<int>(m.points_m.size());
  m.points_m.insert(m.points_m.end(), {Vec3(0, 0, 0), Vec3(1, 0, 0), Vec3(0.5, 0, 0), Vec3(0.25, 1e-7, 0)});
  const int a = first, b = first + 1, middle = first + 2, beside = first + 3;
  m.triangles.insert(m.triangles.begin(), {{a, a, a}, {a, b, middle}, {a, a, b}, {a, b, beside}});
  for (int i = 0; i < 30; ++i) m.triangles.push_back(m.triangles[10]);
  return m;
}

struct Sample {
  std::string name;
  TriangleMesh mesh;
};

inline std::vector<Sample> samples() {
  return {{"soup", soup(1, 400, Vec3::Zero())},
          {"far soup", soup(2, 200, Vec3(1e6, -3e5, 2e5))},
          {"lattice", lattice(12)},
          {"sphere", sphere(Vec3(0.1, 0.2, 0.3), 0.05, 3)},
          {"box", box(Vec3(-0.03, -0.02, 0.0), Vec3(0.03, 0.02, 0.01))},
          {"trench", trench(0.01, 0.02, 0.02, 0.05, 0.03)},
          {"cup", cup(0.02, 0.03, 0.0, 0.04, 24, 3)},
          {"sick", sick()},
          {"one triangle", {{Vec3(0, 0, 0), Vec3(1, 0, 0), Vec3(0, 1, 0)}, {{0, 1, 2}}}}};
}

struct Box {
  Vec3 centre = Vec3::Zero();
  double half = 0.0;
};
inline Box around(const TriangleMesh& m) {
  Vec3 low = m.points_m[0], high = m.points_m[0];
  for (const Vec3& p : m.points_m) low = low.cwiseMin(p), high = high.cwiseMax(p);
  return {0.5 * (low + high), 0.5 * (high - low).maxCoeff()};
}

/// Points about, far from, near to and exactly on the surface: on faces, edges and corners.
inline std::vector<Vec3> questions(const TriangleMesh& m, int count, unsigned seed) {
  Dice dice(seed);
  const Box b = around(m);
  std::vector<Vec3> points;
  while (static_cast<int>(points.size()) < count) {
    const auto t = static_cast<std::size_t>(dice.below(static_cast<int>(m.triangles.size())));
    const double u = dice.in(0.0, 1.0), v = dice.in(0.0, 1.0 - u);
    const Vec3 on_face = (1.0 - u - v) * corner(m, t, 0) + u * corner(m, t, 1) + v * corner(m, t, 2);
    points.push_back(b.centre + dice.cube(1.3 * b.half));
    points.push_back(b.centre + dice.cube(std::pow(10.0, dice.in(0.0, 9.0)) * b.half));
    points.push_back(on_face);
    points.push_back(on_face + dice.cube(1e-3 * b.half));
    points.push_back(corner(m, t, 0));
    points.push_back(corner(m, t, 1) + dice.cube(1e-6 * b.half));
    points.push_back(0.5 * (corner(m, t, 1) + corner(m, t, 2)));
    points.push_back(0.5 * (corner(m, t, 0) + corner(m, t, 2)) + dice.cube(1e-9 * b.half));
  }
  return points;
}

/// A box with the edge y = -1 of its top split on the top face only; the gap is filled by a triangle without area, the
/// last.
inline TriangleMesh box_with_filler() {
  TriangleMesh m = box(Vec3(-1, -1, -1), Vec3(1, 1, 1));
  m.points_m.emplace_back(0.0, -1.0, 1.0);
  for (Triangle& t : m.triangles) {
    if (t == Triangle{4, 5, 7}) t = {4, 8, 7};
  }
  m.triangles.push_back({8, 5, 7});
  m.triangles.push_back({4, 5, 8});
  return m;
}

}  // namespace pellicle::mesh
