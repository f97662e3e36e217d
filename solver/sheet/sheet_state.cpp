// How is the state set up from a flat mesh?
#include "solver/sheet/sheet_state.h"

#include <map>
#include <utility>

namespace pellicle::sheet {
namespace {

void link_corners(SheetState& s) {
  const std::size_t n = s.x_m.size();
  s.first_corner.assign(n + 1, 0);
  for (const Triangle& t : s.triangles)
    for (const int node : t) ++s.first_corner[static_cast<std::size_t>(node) + 1];
  for (std::size_t i = 0; i < n; ++i) s.first_corner[i + 1] += s.first_corner[i];
  s.corners.resize(3 * s.triangles.size());
  std::vector<int> next(s.first_corner.begin(), s.first_corner.end() - 1);
  for (std::size_t e = 0; e < s.triangles.size(); ++e)
    for (std::size_t c = 0; c < 3; ++c)
      s.corners[static_cast<std::size_t>(next[static_cast<std::size_t>(s.triangles[e][c])]++)] =
          static_cast<int>(3 * e + c);
}

/// For the pressure term of the stable step: an inner edge (i, j) has the two nodes k, l opposite it.
void link_opposites(SheetState& s) {
  std::map<std::pair<int, int>, std::array<int, 2>> edges;
  for (const Triangle& t : s.triangles)
    for (std::size_t c = 0; c < 3; ++c) {
      const int i = t[c], j = t[(c + 1) % 3], opposite = t[(c + 2) % 3];
      const auto [at, is_new] = edges.try_emplace({std::min(i, j), std::max(i, j)}, std::array{opposite, -1});
      if (!is_new) at->second[1] = opposite;
    }
  const std::size_t n = s.x_m.size();
  s.first_pair.assign(n + 1, 0);
  for (const auto& [ends, pair] : edges)
    if (pair[1] >= 0)
      for (const int i : {ends.first, ends.second}) ++s.first_pair[static_cast<std::size_t>(i) + 1];
  for (std::size_t i = 0; i < n; ++i) s.first_pair[i + 1] += s.first_pair[i];
  s.opposite.resize(static_cast<std::size_t>(s.first_pair[n]));
  std::vector<int> next(s.first_pair.begin(), s.first_pair.end() - 1);
  for (const auto& [ends, pair] : edges)
    if (pair[1] >= 0)
      for (const int i : {ends.first, ends.second})
        s.opposite[static_cast<std::size_t>(next[static_cast<std::size_t>(i)]++)] = pair;
}

}  // namespace

SheetState flat_sheet(const mesh::SheetMesh& mesh, double thickness_m, double density_kg_m3, double height_m) {
  SheetState s;
  s.triangles = mesh.triangles;
  s.flat_m = mesh.flat_m;
  s.on_rim = mesh.on_rim;
  s.bought_thickness_m = thickness_m;
  const std::size_t n = mesh.flat_m.size();
  s.x_m.resize(n);
  for (std::size_t i = 0; i < n; ++i) s.x_m[i] = {mesh.flat_m[i].x(), mesh.flat_m[i].y(), height_m};
  s.v_m_s.assign(n, Vec3::Zero());
  s.force_N.assign(n, Vec3::Zero());
  s.area_m2.assign(n, Vec3::Zero());
  s.mass_kg.assign(n, 0.0);
  s.moved.assign(n, 1);
  s.corner_forces.resize(s.triangles.size());
  for (const Triangle& t : s.triangles) {
    const Vec2& o = s.flat_m[static_cast<std::size_t>(t[0])];
    const Vec2 d1 = s.flat_m[static_cast<std::size_t>(t[1])] - o, d2 = s.flat_m[static_cast<std::size_t>(t[2])] - o;
    const double g11 = d1.squaredNorm(), g12 = d1.dot(d2), g22 = d2.squaredNorm();
    const double det = g11 * g22 - g12 * g12, volume = thickness_m * 0.5 * std::sqrt(det);
    s.rest.push_back({g22 / det, -g12 / det, g11 / det, 1.0 / det, volume});
    for (const int i : t) s.mass_kg[static_cast<std::size_t>(i)] += density_kg_m3 * volume / 3.0;
  }
  link_corners(s);
  link_opposites(s);
  return s;
}

}  // namespace pellicle::sheet
