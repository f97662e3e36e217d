// How is the state set up from a flat mesh?
#include "solver/sheet/sheet_state.h"

#include <algorithm>
#include <cmath>
#include <limits>

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

/// The triangle over the edge from corner c of triangle e to the next one: of those around its first node the other one
/// that has both; -1 at the rim.
int triangle_across(const SheetState& s, int e, int c) {
  const Triangle& t = s.triangles[static_cast<std::size_t>(e)];
  const int i = t[static_cast<std::size_t>(c)], j = t[static_cast<std::size_t>((c + 1) % 3)];
  for (int k = s.first_corner[static_cast<std::size_t>(i)]; k < s.first_corner[static_cast<std::size_t>(i) + 1]; ++k) {
    const int corner = s.corners[static_cast<std::size_t>(k)], other = corner / 3;
    // It runs from j to i there.
    if (s.triangles[static_cast<std::size_t>(other)][static_cast<std::size_t>((corner % 3 + 2) % 3)] == j && other != e)
      return other;
  }
  return -1;
}

/// For the pressure term of the stable step: an inner edge (i, j) has the two nodes k, l opposite it. And who is next
/// to whom.
void link_opposites(SheetState& s) {
  s.across.resize(s.triangles.size());
  for (int e = 0; e < s.elements(); ++e)
    for (int c = 0; c < 3; ++c)
      s.across[static_cast<std::size_t>(e)][static_cast<std::size_t>(c)] = triangle_across(s, e, c);
  // Around a node, its triangle by triangle: the inner edge that leaves it there.
  s.first_pair.assign(s.x_m.size() + 1, 0);
  s.opposite.clear();
  s.opposite.reserve(s.corners.size());
  for (int i = 0; i < s.nodes(); ++i) {
    for (int k = s.first_corner[static_cast<std::size_t>(i)]; k < s.first_corner[static_cast<std::size_t>(i) + 1];
         ++k) {
      const int corner = s.corners[static_cast<std::size_t>(k)], c = corner % 3;
      const int other = s.across[static_cast<std::size_t>(corner / 3)][static_cast<std::size_t>(c)];
      if (other < 0) continue;
      const Triangle& here = s.triangles[static_cast<std::size_t>(corner / 3)];
      const Triangle& there = s.triangles[static_cast<std::size_t>(other)];
      const int next = here[static_cast<std::size_t>((c + 1) % 3)];
      const int over = there[0] + there[1] + there[2] - i - next;  // the node that is neither
      s.opposite.push_back({here[static_cast<std::size_t>((c + 2) % 3)], over});
    }
    s.first_pair[static_cast<std::size_t>(i) + 1] = static_cast<int>(s.opposite.size());
  }
}

Rest rest_of(const SheetState& s, const Triangle& t) {
  const Vec2& o = s.flat_m[static_cast<std::size_t>(t[0])];
  const Vec2 d1 = s.flat_m[static_cast<std::size_t>(t[1])] - o, d2 = s.flat_m[static_cast<std::size_t>(t[2])] - o;
  const double grown_sq = (1.0 + s.expansion) * (1.0 + s.expansion);
  const double g11 = grown_sq * d1.squaredNorm(), g12 = grown_sq * d1.dot(d2), g22 = grown_sq * d2.squaredNorm();
  const double det = g11 * g22 - g12 * g12;
  return {g22 / det, -g12 / det, g11 / det, 1.0 / det, s.bought_thickness_m * 0.5 * std::sqrt(det) / grown_sq};
}

/// Smallest height of a triangle in the flat sheet: twice its area over its longest edge.
double flat_height_m(const Rest& r) {
  const double det = 1.0 / r.inverse_det_per_m4;  // (2 A)^2
  const double g11 = r.m22_per_m2 * det, g22 = r.m11_per_m2 * det, g12 = -r.m12_per_m2 * det;
  return std::sqrt(det / std::max({g11, g22, g11 + g22 - 2.0 * g12}));
}

void link(SheetState& s) {
  link_corners(s);
  link_opposites(s);
  s.force_N.assign(s.x_m.size(), Vec3::Zero());
  s.area_m2.assign(s.x_m.size(), Vec3::Zero());
  s.moved.assign(s.x_m.size(), 1);
  s.renewed.assign(s.x_m.size(), 1);
  cut_into_blocks(s);
}

/// New nodes on an edge of one triangle only lie on the outline of the sheet.
std::vector<char> on_outline(std::size_t old_nodes, const mesh::Refined& refined) {
  std::vector<int> parent(refined.ends.size(), -1);
  std::vector<char> outer(refined.ends.size(), 1);
  for (std::size_t e = 0; e < refined.triangles.size(); ++e)
    for (const int i : refined.triangles[e]) {
      if (static_cast<std::size_t>(i) < old_nodes) continue;
      const std::size_t k = static_cast<std::size_t>(i) - old_nodes;
      if (parent[k] >= 0 && parent[k] != refined.parent[e]) outer[k] = 0;
      parent[k] = refined.parent[e];
    }
  return outer;
}

}  // namespace

void cut_into_blocks(SheetState& s, int nodes_per_block) {
  s.blocks.cut({s.triangles, s.pull.empty() ? s.rest : s.pull, s.first_corner, s.corners}, nodes_per_block);
}

void renew_pull(SheetState& s) {
  s.blocks.renew(s.pull);
  s.moved.assign(s.x_m.size(), 1);
}

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
  s.coarse_height_m = std::numeric_limits<double>::infinity();
  for (const Triangle& t : s.triangles) {
    s.rest.push_back(rest_of(s, t));
    s.coarse_height_m = std::min(s.coarse_height_m, flat_height_m(s.rest.back()));
  }
  s.local_mass.assign(s.triangles.size(), 1.0);
  s.mass_kg = lumped_mass_kg(s, density_kg_m3);
  s.blocks.start(s.nodes());
  link(s);
  return s;
}

void expand(SheetState& s, double share) {
  s.expansion = share;
  for (std::size_t e = 0; e < s.triangles.size(); ++e) s.rest[e] = rest_of(s, s.triangles[e]);
  cut_into_blocks(s);
}

void even_out_mass(SheetState& s) {
  std::vector<double> height_m;
  for (const Rest& rest : s.rest) height_m.push_back(flat_height_m(rest));
  std::vector<double> ordered = height_m;
  const auto median = ordered.begin() + static_cast<std::ptrdiff_t>(ordered.size() / 2);
  std::nth_element(ordered.begin(), median, ordered.end());
  s.coarse_height_m = *median;
  for (std::size_t e = 0; e < height_m.size(); ++e) {
    const double share = s.coarse_height_m / height_m[e];
    s.local_mass[e] = std::clamp(share * share, 1.0, kMostLocalMass);
  }
}

std::vector<double> lumped_mass_kg(const SheetState& s, double density_kg_m3) {
  std::vector<double> mass(s.x_m.size(), 0.0);
  for (std::size_t e = 0; e < s.triangles.size(); ++e)
    for (const int i : s.triangles[e])
      mass[static_cast<std::size_t>(i)] += density_kg_m3 * s.local_mass[e] * s.rest[e].volume_m3 / 3.0;
  return mass;
}

void refine(SheetState& s, const mesh::Refined& refined) {
  const std::vector<char> outer = on_outline(s.x_m.size(), refined);
  for (std::size_t k = 0; k < refined.ends.size(); ++k) {
    const auto a = static_cast<std::size_t>(refined.ends[k][0]), b = static_cast<std::size_t>(refined.ends[k][1]);
    s.flat_m.push_back(0.5 * (s.flat_m[a] + s.flat_m[b]));
    s.x_m.push_back(0.5 * (s.x_m[a] + s.x_m[b]));
    s.v_m_s.push_back(0.5 * (s.v_m_s[a] + s.v_m_s[b]));
    s.on_rim.push_back(outer[k]);
  }
  std::vector<double> local_mass;
  std::vector<Rest> rest;
  for (std::size_t e = 0; e < refined.triangles.size(); ++e) {
    const auto parent = static_cast<std::size_t>(refined.parent[e]);
    if (refined.triangles[e] == s.triangles[parent]) {
      rest.push_back(s.rest[parent]);
      local_mass.push_back(s.local_mass[parent]);
      continue;
    }
    rest.push_back(rest_of(s, refined.triangles[e]));
    const double share = s.coarse_height_m / flat_height_m(rest.back());
    local_mass.push_back(std::clamp(share * share, s.local_mass[parent], kMostLocalMass));
  }
  s.triangles = refined.triangles;
  s.rest = std::move(rest);
  s.pull.clear();
  s.local_mass = std::move(local_mass);
  s.blocks.insert(refined.ends);
  link(s);
}

}  // namespace pellicle::sheet
