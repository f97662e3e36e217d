// How thin are the walls of a surface, how narrow its slots, and what lies within what? By rays.
#include "mesh/inspect_parts.h"

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <tuple>

namespace pellicle::mesh::inspect_parts {
namespace {

/// Two stretches face each other if they lean by less than about 26 degrees: the tip of a wedge is no wall.
constexpr double kOpposite = -0.9;

/// Steeper walls are looked across level: along their own normals, which draft tilts, low ones would look over each
/// other.
constexpr double kSteep = 0.5;

Vec3 across_gas(const Vec3& normal) {
  if (std::fabs(normal.z()) > kSteep) return normal;
  return Vec3{normal.x(), normal.y(), 0.0}.normalized();
}

}  // namespace

std::optional<Narrow> narrowest(const Nearest& surface, bool outside, std::span<const char> left_out,
                                std::span<const char> turned, double widest_m, double round_off_m) {
  const TriangleMesh& m = surface.mesh();
  const auto normal = [&](int e) { return turned[at(e)] != 0 ? Vec3(-surface.normal(e)) : surface.normal(e); };
  struct Best {
    double width_m;
    int triangle = -1;
  };
  Best best{widest_m};
#pragma omp parallel
  {
    Best own{widest_m};
#pragma omp for schedule(dynamic, 1024) nowait
    for (int e = 0; e < static_cast<int>(m.triangles.size()); ++e) {
      if (left_out[at(e)] != 0) continue;
      const Corners t = corners(m, e);
      if (!(normal(e).squaredNorm() > 0.5)) continue;
      const Vec3 along = outside ? across_gas(normal(e)) : Vec3(-normal(e));
      const auto hit = surface.ray((t.a + t.b + t.c) / 3.0 + round_off_m * along, along, own.width_m);
      if (!hit || hit->triangle == e || normal(hit->triangle).dot(normal(e)) > kOpposite) continue;
      const double width_m = hit->t_m + round_off_m;
      // Bodies that touch have no slot between them.
      if (width_m > 10.0 * round_off_m && std::tie(width_m, e) < std::tie(own.width_m, own.triangle))
        own = {width_m, e};
    }
#pragma omp critical(pellicle_narrowest)
    if (own.triangle >= 0 &&
        (best.triangle < 0 || std::tie(own.width_m, own.triangle) < std::tie(best.width_m, best.triangle)))
      best = own;
  }
  if (best.triangle < 0) return std::nullopt;
  const Corners t = corners(m, best.triangle);
  const Vec3 along = outside ? across_gas(normal(best.triangle)) : Vec3(-normal(best.triangle));
  return Narrow{best.width_m, (t.a + t.b + t.c) / 3.0 + 0.5 * best.width_m * along};
}

int bodies_around(const Nearest& surface, const Inspection& inspection, const Vec3& place_m, int own,
                  double round_off_m) {
  // Up, leaning a little, so that the edges of upright walls and of grids are not met all along.
  const Vec3 up = Vec3{0.0123, 0.0217, 1.0}.normalized();
  std::vector<int> odd;  // bodies crossed an odd number of times so far
  Vec3 from = place_m + round_off_m * up;
  constexpr int kMostHits = 10000;
  for (int k = 0; k < kMostHits; ++k) {
    const auto hit = surface.ray(from, up);
    if (!hit) break;
    const int body = inspection.body[at(hit->triangle)];
    if (body >= 0 && body != own && inspection.bodies[at(body)].is_closed) {
      const auto known = std::find(odd.begin(), odd.end(), body);
      if (known == odd.end())
        odd.push_back(body);
      else
        odd.erase(known);
    }
    from += (hit->t_m + round_off_m) * up;
  }
  return static_cast<int>(odd.size());
}

}  // namespace pellicle::mesh::inspect_parts
