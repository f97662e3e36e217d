// How is a mould of millions of triangles shown on a page for the mail? Coarser, by known cells.
#include "io/report/coarsened.h"

#include "mesh/check.h"

#include <Eigen/Geometry>

#include <cmath>
#include <cstdint>
#include <unordered_map>
#include <vector>

namespace pellicle::report {
namespace {

using mesh::Triangle;
using mesh::Vec3;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

double area_m2(const mesh::TriangleMesh& mesh) {
  double sum = 0.0;
  for (const Triangle& t : mesh.triangles) {
    const Vec3& a = mesh.points_m[at(t[0])];
    sum += 0.5 * (mesh.points_m[at(t[1])] - a).cross(mesh.points_m[at(t[2])] - a).norm();
  }
  return sum;
}

Vec3 low_of(const mesh::TriangleMesh& mesh) {
  Vec3 low_m = mesh.points_m.front();
  for (const Vec3& p : mesh.points_m) low_m = low_m.cwiseMin(p);
  return low_m;
}

/// 21 bits for each number of the cell: two million cells along an edge.
std::uint64_t cell_of(const Vec3& p_m, const Vec3& low_m, double cell_m) {
  std::uint64_t key = 0;
  for (int k = 0; k < 3; ++k) key = key << 21U | static_cast<std::uint64_t>((p_m[k] - low_m[k]) / cell_m);
  return key;
}

mesh::TriangleMesh clustered(const mesh::TriangleMesh& mesh, const Vec3& low_m, double cell_m) {
  mesh::TriangleMesh out;
  std::unordered_map<std::uint64_t, int> cells;
  std::vector<int> place(mesh.points_m.size()), members;
  for (std::size_t i = 0; i < mesh.points_m.size(); ++i) {
    const auto [cell, is_new] =
        cells.try_emplace(cell_of(mesh.points_m[i], low_m, cell_m), static_cast<int>(out.points_m.size()));
    if (is_new) {
      out.points_m.emplace_back(Vec3::Zero());
      members.push_back(0);
    }
    place[i] = cell->second;
    out.points_m[at(place[i])] += mesh.points_m[i];
    ++members[at(place[i])];
  }
  for (std::size_t i = 0; i < members.size(); ++i) out.points_m[i] /= members[i];
  for (const Triangle& t : mesh.triangles) {
    const Triangle moved{place[at(t[0])], place[at(t[1])], place[at(t[2])]};
    if (moved[0] != moved[1] && moved[1] != moved[2] && moved[2] != moved[0]) out.triangles.push_back(moved);
  }
  return out;
}

}  // namespace

Coarsened coarsened(const mesh::TriangleMesh& mesh, std::size_t most_triangles) {
  ensure(most_triangles >= 100, "a surface is shown with a hundred triangles at least");
  if (mesh.triangles.size() <= most_triangles) return {mesh, 0.0};
  // Two triangles a cell cover its area; then larger by a fifth until they are few enough.
  constexpr double kLarger = 1.2;
  const Vec3 low_m = low_of(mesh);
  Coarsened out{{}, std::sqrt(2.0 * area_m2(mesh) / static_cast<double>(most_triangles))};
  ensure(out.cell_m > 0.0, "a surface has an area");
  out.surface = clustered(mesh, low_m, out.cell_m);
  while (out.surface.triangles.size() > most_triangles) {
    out.cell_m *= kLarger;
    out.surface = clustered(mesh, low_m, out.cell_m);
  }
  return out;
}

}  // namespace pellicle::report
