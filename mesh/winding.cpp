// How many times does a surface go round a point?
#include "mesh/winding.h"

#include <Eigen/Geometry>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <numeric>

namespace pellicle::mesh {
namespace {

constexpr std::size_t kLeafTriangles = 8;
constexpr double kFar = 3.0;  // radii of a group: farther away it counts as a whole
constexpr double kPerSphere = 0.25 * std::numbers::inv_pi;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// Half the solid angle of a triangle (van Oosterom & Strackee, IEEE Trans. Biomed. Eng. 30 (1983) 125; from memory):
/// positive if p is behind it.
double half_solid_angle(const Vec3& p, const std::array<Vec3, 3>& t) {
  const Vec3 a = t[0] - p, b = t[1] - p, c = t[2] - p;
  const double la = a.norm(), lb = b.norm(), lc = c.norm();
  const double below = la * lb * lc + a.dot(b) * lc + b.dot(c) * la + c.dot(a) * lb;
  const double above = a.dot(b.cross(c));
  return above == 0.0 ? 0.0 : std::atan2(above, below);  // on its plane: neither side
}

std::array<Vec3, 3> corners_of(const TriangleMesh& mesh, int triangle) {
  const Triangle& t = mesh.triangles[at(triangle)];
  return {mesh.points_m[at(t[0])], mesh.points_m[at(t[1])], mesh.points_m[at(t[2])]};
}

Vec3 middle_of(const std::array<Vec3, 3>& t) { return (t[0] + t[1] + t[2]) / 3.0; }
Vec3 area_of(const std::array<Vec3, 3>& t) { return 0.5 * (t[1] - t[0]).cross(t[2] - t[0]); }

}  // namespace

Winding::Winding(const TriangleMesh& mesh) {
  std::vector<int> triangles(mesh.triangles.size());
  std::iota(triangles.begin(), triangles.end(), 0);
  corners_m_.reserve(triangles.size());
  if (!triangles.empty()) add_node(triangles, mesh);
}

void Winding::add_node(std::span<int> triangles, const TriangleMesh& mesh) {
  const std::size_t number = nodes_.size();
  nodes_.emplace_back();
  Node node{Vec3::Zero(), 0.0, Vec3::Zero(), Eigen::Matrix3d::Zero(), static_cast<int>(corners_m_.size()), 0, 0};
  double area_m2 = 0.0;
  Eigen::AlignedBox3d middles;
  for (const int t : triangles) {
    const auto c = corners_of(mesh, t);
    const double a = area_of(c).norm();
    area_m2 += a;
    node.centre_m += a * middle_of(c);
    middles.extend(middle_of(c));
  }
  node.centre_m = area_m2 > 0.0 ? Vec3(node.centre_m / area_m2) : Vec3(middles.center());
  for (const int t : triangles) {
    const auto c = corners_of(mesh, t);
    node.dipole_m2 += area_of(c);
    node.first_m3 += (middle_of(c) - node.centre_m) * area_of(c).transpose();
    for (const Vec3& x : c) node.radius_m = std::max(node.radius_m, (x - node.centre_m).norm());
  }
  if (triangles.size() <= kLeafTriangles) {
    node.count = static_cast<int>(triangles.size());
    for (const int t : triangles) corners_m_.push_back(corners_of(mesh, t));
  } else {
    int axis = 0;
    middles.sizes().maxCoeff(&axis);
    const std::size_t half = triangles.size() / 2;
    std::nth_element(
        triangles.begin(), triangles.begin() + static_cast<std::ptrdiff_t>(half), triangles.end(), [&](int a, int b) {
          const double xa = middle_of(corners_of(mesh, a))[axis], xb = middle_of(corners_of(mesh, b))[axis];
          return xa != xb ? xa < xb : a < b;
        });
    add_node(triangles.first(half), mesh);
    add_node(triangles.subspan(half), mesh);
  }
  node.skip = static_cast<int>(nodes_.size());
  nodes_[number] = node;
}

double Winding::at(const Vec3& p_m) const {
  double whole = 0.0, halves = 0.0;
  for (std::size_t i = 0; i < nodes_.size();) {
    const Node& node = nodes_[i];
    const Vec3 d = node.centre_m - p_m;
    const double r_sq = d.squaredNorm();
    if (r_sq > kFar * kFar * node.radius_m * node.radius_m) {
      // Expansion of integral of n.d/|d|^3 about the centre: dipole and first moment.
      const double per_r3 = 1.0 / (r_sq * std::sqrt(r_sq));
      whole += per_r3 * (node.dipole_m2.dot(d) + node.first_m3.trace() - 3.0 * d.dot(node.first_m3 * d) / r_sq);
      i = static_cast<std::size_t>(node.skip);
      continue;
    }
    for (int k = node.first; k < node.first + node.count; ++k)
      halves += half_solid_angle(p_m, corners_m_[static_cast<std::size_t>(k)]);
    ++i;
  }
  return kPerSphere * (whole + 2.0 * halves);
}

double winding_by_all(const TriangleMesh& mesh, const Vec3& p_m) {
  double halves = 0.0;
  for (std::size_t t = 0; t < mesh.triangles.size(); ++t)
    halves += half_solid_angle(p_m, corners_of(mesh, static_cast<int>(t)));
  return kPerSphere * 2.0 * halves;
}

}  // namespace pellicle::mesh
