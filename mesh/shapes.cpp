// What simple moulds have a volume and an area one can write down? Closed solids for tests and for `verify`.
#include "mesh/shapes.h"

#include "mesh/check.h"

#include <cmath>
#include <cstddef>
#include <map>
#include <numbers>
#include <span>
#include <utility>

namespace pellicle::mesh {
namespace {

/// Turns a profile (r, z) about the z axis. It runs from axis to axis with the solid on its left, that is upwards on
/// the outside; only its two ends lie on the axis, and each is one point.
TriangleMesh revolve(std::span<const Vec2> profile_m, int facets) {
  ensure(facets >= 3 && profile_m.size() >= 3, "a solid of revolution has three facets and three profile points");
  TriangleMesh solid;
  const std::size_t last = profile_m.size() - 1;
  solid.points_m.emplace_back(0.0, 0.0, profile_m[0].y());
  for (std::size_t i = 1; i < last; ++i) {
    for (int k = 0; k < facets; ++k) {
      const double angle = 2.0 * std::numbers::pi * k / facets;
      const double r = profile_m[i].x();
      solid.points_m.emplace_back(r * std::cos(angle), r * std::sin(angle), profile_m[i].y());
    }
  }
  solid.points_m.emplace_back(0.0, 0.0, profile_m[last].y());
  const int top = static_cast<int>(solid.points_m.size()) - 1;
  const int rings = static_cast<int>(last) - 1;
  const auto node = [facets](int ring, int k) { return 1 + ring * facets + k % facets; };
  for (int k = 0; k < facets; ++k) {
    solid.triangles.push_back({0, node(0, k + 1), node(0, k)});
    for (int ring = 0; ring + 1 < rings; ++ring) {
      solid.triangles.push_back({node(ring, k), node(ring, k + 1), node(ring + 1, k + 1)});
      solid.triangles.push_back({node(ring, k), node(ring + 1, k + 1), node(ring + 1, k)});
    }
    solid.triangles.push_back({top, node(rings - 1, k), node(rings - 1, k + 1)});
  }
  return solid;
}

/// Appends the points that divide the way from the last point to `end` into `parts`, `end` included.
void go_to(const Vec2& end, int parts, std::vector<Vec2>& profile) {
  const Vec2 start = profile.back();
  for (int i = 1; i < parts; ++i) profile.push_back(start + (end - start) * i / parts);
  profile.push_back(end);
}

}  // namespace

TriangleMesh box(const Vec3& low_m, const Vec3& high_m) {
  TriangleMesh solid;
  for (int corner = 0; corner < 8; ++corner) {  // bit k of the number: at the high end of axis k
    solid.points_m.emplace_back((corner & 1) != 0 ? high_m.x() : low_m.x(), (corner & 2) != 0 ? high_m.y() : low_m.y(),
                                (corner & 4) != 0 ? high_m.z() : low_m.z());
  }
  solid.triangles = {{0, 2, 3}, {0, 3, 1}, {4, 5, 7}, {4, 7, 6}, {0, 1, 5}, {0, 5, 4},
                     {2, 6, 7}, {2, 7, 3}, {0, 4, 6}, {0, 6, 2}, {1, 3, 7}, {1, 7, 5}};
  return solid;
}

TriangleMesh drafted_plate(double half_x_m, double half_y_m, double height_m, double draft_rad) {
  const double in_m = height_m * std::tan(draft_rad);
  ensure(height_m > 0.0 && in_m < half_x_m && in_m < half_y_m, "a drafted plate has a top");
  TriangleMesh solid = box(Vec3(-half_x_m, -half_y_m, 0.0), Vec3(half_x_m, half_y_m, height_m));
  for (Vec3& p : solid.points_m)
    if (p.z() > 0.0) p -= Vec3(std::copysign(in_m, p.x()), std::copysign(in_m, p.y()), 0.0);
  return solid;
}

TriangleMesh cylinder(double radius_m, double z0_m, double z1_m, int facets) {
  return revolve(std::vector<Vec2>{{0.0, z0_m}, {radius_m, z0_m}, {radius_m, z1_m}, {0.0, z1_m}}, facets);
}

TriangleMesh sphere(const Vec3& centre_m, double radius_m, int subdivisions) {
  // Corners of three golden rectangles.
  constexpr double g = std::numbers::phi;
  std::vector<Vec3> points{{-1, g, 0},  {1, g, 0},  {-1, -g, 0}, {1, -g, 0}, {0, -1, g},  {0, 1, g},
                           {0, -1, -g}, {0, 1, -g}, {g, 0, -1},  {g, 0, 1},  {-g, 0, -1}, {-g, 0, 1}};
  for (Vec3& p : points) p.normalize();
  std::vector<Triangle> triangles{{0, 11, 5},  {0, 5, 1},  {0, 1, 7},  {0, 7, 10}, {0, 10, 11}, {1, 5, 9}, {5, 11, 4},
                                  {11, 10, 2}, {10, 7, 6}, {7, 1, 8},  {3, 9, 4},  {3, 4, 2},   {3, 2, 6}, {3, 6, 8},
                                  {3, 8, 9},   {4, 9, 5},  {2, 4, 11}, {6, 2, 10}, {8, 6, 7},   {9, 8, 1}};
  for (int level = 0; level < subdivisions; ++level) {
    std::map<std::pair<int, int>, int> middles;
    const auto middle = [&](int a, int b) {
      const auto [found, is_new] = middles.try_emplace(std::minmax(a, b), static_cast<int>(points.size()));
      if (is_new)
        points.push_back((points[static_cast<std::size_t>(a)] + points[static_cast<std::size_t>(b)]).normalized());
      return found->second;
    };
    std::vector<Triangle> finer;
    finer.reserve(4 * triangles.size());
    for (const auto& [a, b, c] : triangles) {
      const int ab = middle(a, b), bc = middle(b, c), ca = middle(c, a);
      finer.insert(finer.end(), {{a, ab, ca}, {b, bc, ab}, {c, ca, bc}, {ab, bc, ca}});
    }
    triangles = std::move(finer);
  }
  for (Vec3& p : points) p = centre_m + radius_m * p;
  return {std::move(points), std::move(triangles)};
}

TriangleMesh cup(double radius_m, double depth_m, double z_top_m, double outer_radius_m, int facets, int rings) {
  ensure(0.0 < radius_m && radius_m < outer_radius_m && depth_m > 0.0 && rings >= 1, "a cup has a wall and a depth");
  const double under_m = z_top_m - (1.0 + kCavityFloor) * depth_m;
  std::vector<Vec2> profile{{0.0, under_m}, {outer_radius_m, under_m}, {outer_radius_m, z_top_m}};
  go_to({radius_m, z_top_m}, rings, profile);
  go_to({radius_m, z_top_m - depth_m}, rings, profile);
  go_to({0.0, z_top_m - depth_m}, rings, profile);
  return revolve(profile, facets);
}

TriangleMesh cone_cup(double opening_radius_m, double wall_angle_from_horizontal_rad, double z_top_m,
                      double outer_radius_m, int facets) {
  const double depth_m = opening_radius_m * std::tan(wall_angle_from_horizontal_rad);
  ensure(0.0 < opening_radius_m && opening_radius_m < outer_radius_m && depth_m > 0.0, "a cone has a wall and a depth");
  const double under_m = z_top_m - (1.0 + kCavityFloor) * depth_m;
  return revolve(std::vector<Vec2>{{0.0, under_m},
                                   {outer_radius_m, under_m},
                                   {outer_radius_m, z_top_m},
                                   {opening_radius_m, z_top_m},
                                   {0.0, z_top_m - depth_m}},
                 facets);
}

TriangleMesh trench(double half_width_m, double depth_m, double z_top_m, double half_length_m, double outer_m) {
  ensure(0.0 < half_width_m && half_width_m < outer_m && depth_m > 0.0 && half_length_m > 0.0,
         "a trench has walls and a depth");
  const double floor_m = z_top_m - depth_m;
  const double under_m = floor_m - kCavityFloor * depth_m;
  // The section (x, z), counter-clockwise seen from -y: under left, under right, and round over the channel.
  const std::vector<Vec2> section{{-outer_m, under_m},      {outer_m, under_m},      {outer_m, z_top_m},
                                  {half_width_m, z_top_m},  {half_width_m, floor_m}, {-half_width_m, floor_m},
                                  {-half_width_m, z_top_m}, {-outer_m, z_top_m}};
  const std::vector<Triangle> end{{0, 1, 4}, {0, 4, 5}, {1, 2, 3}, {1, 3, 4}, {0, 5, 6}, {0, 6, 7}};
  TriangleMesh solid;
  for (const Vec2& p : section) solid.points_m.emplace_back(p.x(), -half_length_m, p.y());
  for (const Vec2& p : section) solid.points_m.emplace_back(p.x(), half_length_m, p.y());
  for (const auto& [a, b, c] : end) {
    solid.triangles.push_back({a, b, c});
    solid.triangles.push_back({a + 8, c + 8, b + 8});
  }
  for (int i = 0; i < 8; ++i) {
    const int next = (i + 1) % 8;
    solid.triangles.push_back({i, i + 8, next + 8});
    solid.triangles.push_back({i, next + 8, next});
  }
  return solid;
}

TriangleMesh pocket(double half_x_m, double half_y_m, double depth_m, double z_top_m, double margin_m) {
  ensure(half_x_m > 0.0 && half_y_m > 0.0 && depth_m > 0.0 && margin_m > 0.0, "a pocket has walls and a depth");
  const double floor_m = z_top_m - depth_m, under_m = floor_m - kCavityFloor * depth_m;
  TriangleMesh solid;
  // Rings of four, from the outside bottom over the rim down into the pocket, counter-clockwise seen from above.
  const auto ring = [&](double x, double y, double z) {
    solid.points_m.insert(solid.points_m.end(), {{-x, -y, z}, {x, -y, z}, {x, y, z}, {-x, y, z}});
  };
  ring(half_x_m + margin_m, half_y_m + margin_m, under_m);
  ring(half_x_m + margin_m, half_y_m + margin_m, z_top_m);
  ring(half_x_m, half_y_m, z_top_m);
  ring(half_x_m, half_y_m, floor_m);
  for (int r = 0; r < 3; ++r)
    for (int k = 0; k < 4; ++k) {
      const int a = 4 * r + k, b = 4 * r + (k + 1) % 4;
      solid.triangles.push_back({a, b, b + 4});
      solid.triangles.push_back({a, b + 4, a + 4});
    }
  solid.triangles.push_back({12, 13, 14});
  solid.triangles.push_back({12, 14, 15});
  solid.triangles.push_back({0, 2, 1});
  solid.triangles.push_back({0, 3, 2});
  return solid;
}

}  // namespace pellicle::mesh
