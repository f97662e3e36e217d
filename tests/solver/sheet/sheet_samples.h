// On which sheets, of which laws and in which states is the membrane tried? Small irregular meshes of every condition.
#pragma once

#include "solver/sheet/membrane.h"

#include <Eigen/Geometry>

#include <cmath>
#include <functional>
#include <random>
#include <string>
#include <vector>

namespace pellicle::sheet {

constexpr double kHalf_m = 0.010;  // half the side of the sample sheet
constexpr double kThickness_m = 0.5e-3;
constexpr double kDensity_kg_m3 = 1050.0;

/// The same numbers from every standard library: mt19937 is fixed by the standard, its distributions are not.
class Dice {
 public:
  explicit Dice(unsigned seed) : engine_(seed) {}
  double in(double low, double high) { return low + (high - low) * static_cast<double>(engine_()) / 4294967296.0; }
  Vec3 cube(double half) {
    const double x = in(-half, half), y = in(-half, half);
    return {x, y, in(-half, half)};
  }

 private:
  std::mt19937 engine_;
};

struct NamedLaw {
  std::string name;
  Polymer law;
};

/// Ogden, Proc. R. Soc. A 326 (1972) 565: the constants for Treloar's rubber (from memory).
inline Ogden ogden_1972() { return {3, {0.63e6, 0.0012e6, -0.01e6, 0, 0, 0}, {1.3, 5.0, -2.0, 0, 0, 0}}; }

/// One of every law; constants of the size hot sheet or rubber has, made up but for Ogden's.
inline std::vector<NamedLaw> laws() {
  return {{"neo-Hookean", NeoHookean{0.30e6}},
          {"Mooney-Rivlin", MooneyRivlin{0.12e6, 0.03e6}},
          {"Yeoh", Yeoh{0.17e6, -2.0e3, 60.0}},
          {"Ogden", ogden_1972()}};
}

/// Square sheet of cells x cells pairs of triangles, centred, at height 0; inner nodes moved by up to `jitter` of a
/// cell, diagonals alternating, so that no two triangles are alike. Nodes on the edge stay on it and are held.
inline mesh::SheetMesh square_mesh(int cells, double jitter, unsigned seed = 1) {
  mesh::SheetMesh m;
  Dice dice(seed);
  const double cell_m = 2.0 * kHalf_m / cells;
  const auto edge = [cells](int i) { return i == 0 || i == cells; };
  for (int j = 0; j <= cells; ++j)
    for (int i = 0; i <= cells; ++i) {
      const double dx = dice.in(-jitter, jitter), dy = dice.in(-jitter, jitter);
      m.flat_m.emplace_back(-kHalf_m + cell_m * (i + (edge(i) ? 0.0 : dx)),
                            -kHalf_m + cell_m * (j + (edge(j) ? 0.0 : dy)));
      m.on_rim.push_back(edge(i) || edge(j));
    }
  for (int j = 0; j < cells; ++j)
    for (int i = 0; i < cells; ++i) {
      const int a = j * (cells + 1) + i, b = a + 1, c = b + cells + 1, d = c - 1;
      if ((i + j) % 2 == 0) {
        m.triangles.push_back({a, b, c});
        m.triangles.push_back({a, c, d});
      } else {
        m.triangles.push_back({a, b, d});
        m.triangles.push_back({b, c, d});
      }
    }
  m.min_quality = m.mean_quality = 0.0;  // not asked for here
  return m;
}

inline SheetState square_sheet(int cells, double jitter, unsigned seed = 1) {
  return flat_sheet(square_mesh(cells, jitter, seed), kThickness_m, kDensity_kg_m3, 0.0);
}

/// Every node to where `map` takes its flat place.
inline void place(SheetState& s, const std::function<Vec3(const Vec2&)>& map) {
  for (std::size_t i = 0; i < s.x_m.size(); ++i) s.x_m[i] = map(s.flat_m[i]);
}

struct Counts {
  int taut = 0, folded = 0, slack = 0;
};
inline Counts count_conditions(const SheetState& s) {
  Counts n;
  for (int e = 0; e < s.elements(); ++e) {
    const ElementStretch x = element_stretch(s, e);
    if (x.wrinkle == 0.0)
      ++n.taut;
    else if (x.material_l1 > 1.0)
      ++n.folded;
    else
      ++n.slack;
  }
  return n;
}

struct NamedState {
  std::string name;
  SheetState sheet;
  double pressure_Pa;  ///< as in a bubble of this shape: positive pushes down
};

/// States in which no element is alike: pulled flat, bent out of plane, folded, slack, mixed, blown to a deep bubble.
inline std::vector<NamedState> states(const SheetState& flat, double cell_m) {
  std::vector<NamedState> all;
  Dice dice(7);
  const auto add = [&](const std::string& name, double jolt, double pressure_Pa,
                       const std::function<Vec3(const Vec2&)>& map) {
    NamedState n{name, flat, pressure_Pa};
    place(n.sheet, map);
    for (Vec3& x : n.sheet.x_m) x += dice.cube(jolt * cell_m);
    all.push_back(n);
  };
  const auto bubble = [](double depth, double pull) {
    return [depth, pull](const Vec2& p) {
      const double u = p.x() / kHalf_m, v = p.y() / kHalf_m;
      return Vec3{pull * p.x(), pull * p.y(), -depth * kHalf_m * (1.0 - u * u) * (1.0 - v * v)};
    };
  };
  add("stretched alike", 0.0, 0.0, [](const Vec2& p) { return Vec3{2.0 * p.x(), 2.0 * p.y(), 0.0}; });
  add("stretched", 0.05, 0.0, [](const Vec2& p) { return Vec3{1.8 * p.x(), 1.3 * p.y(), 0.0}; });
  add("distorted", 0.4, 0.0, [](const Vec2& p) { return Vec3{2.2 * p.x(), 1.9 * p.y(), 0.0}; });
  add("far stretched", 0.3, 0.0, [](const Vec2& p) { return Vec3{3.5 * p.x(), 3.0 * p.y(), 0.0}; });
  add("folded", 0.02, 0.0, [](const Vec2& p) { return Vec3{1.7 * p.x(), 0.5 * p.y(), 0.0}; });
  add("hardly folded", 0.0, 0.0, [](const Vec2& p) { return Vec3{1.10 * p.x(), 0.94 * p.y(), 0.0}; });
  add("slack", 0.02, 0.0, [](const Vec2& p) { return Vec3{0.8 * p.x(), 0.7 * p.y(), 0.0}; });
  add("mixed", 0.1, 0.0, [](const Vec2& p) {
    const double u = p.x() / kHalf_m;  // from slack on the left over folded to taut on the right
    return Vec3{kHalf_m * (0.9 * u + 0.35 * u * u), p.y() * (1.05 + 0.4 * u), 0.0};
  });
  add("bubble", 0.05, 8e3, bubble(0.8, 1.1));
  add("deep bubble", 0.1, 60e3, bubble(2.5, 1.3));
  add("folded under pressure", 0.05, 20e3, [](const Vec2& p) {
    return Vec3{1.6 * p.x(), 0.5 * p.y(), -0.5 * kHalf_m * (1.0 - p.x() * p.x() / (kHalf_m * kHalf_m))};
  });
  add("hardly stretched under much pressure", 0.0, 60e3, [](const Vec2& p) {
    return Vec3{1.02 * p.x(), 1.02 * p.y(), 0.0};
  });
  return all;
}

inline std::vector<NamedState> states(int cells) { return states(square_sheet(cells, 0.3), 2.0 * kHalf_m / cells); }

/// All free coordinates get their forces from membrane and gas: f = -dW/dx - p area.
inline std::vector<Vec3> forces_N(const Polymer& law, SheetState& s, double pressure_Pa) {
  membrane_forces(law, s);
  std::vector<Vec3> f(s.force_N);
  for (std::size_t i = 0; i < f.size(); ++i) f[i] -= pressure_Pa * s.area_m2[i];
  return f;
}

}  // namespace pellicle::sheet
