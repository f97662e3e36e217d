// How far is a point from a surface, on which side, and what does a straight line hit first?
#pragma once

#include "mesh/triangle_mesh.h"

#include <array>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <optional>
#include <span>
#include <vector>

namespace pellicle::mesh {

/// Where on a triangle the closest point lies: on its face, on edge k (from corner k to corner k+1), or on corner k.
enum class Feature : std::uint8_t { kFace, kEdge0, kEdge1, kEdge2, kCorner0, kCorner1, kCorner2 };

struct Closest {
  int triangle = -1;
  Feature feature = Feature::kFace;
  Vec3 point_m = Vec3::Zero();
  double distance_m = std::numeric_limits<double>::infinity();  ///< unsigned
};

/// Closest point of one triangle (Ericson, Real-Time Collision Detection, 2005, 5.1.5; from memory). Two triangles that
/// share the edge or corner it lies on give the same bits. A triangle without area is taken as its three edges.
Closest closest_on_triangle(const Vec3& p_m, const Vec3& a_m, const Vec3& b_m, const Vec3& c_m);

enum class TriangleShape : std::uint8_t;
/// The same, of a triangle whose shape is known.
Closest closest_on_triangle(const Vec3& p_m, const Vec3& a_m, const Vec3& b_m, const Vec3& c_m, TriangleShape shape);

/// Bounding-volume tree over an immutable triangle mesh, in double precision. Ties go to the lowest triangle number,
/// so answers do not depend on the tree. Safe to ask from many threads at once; no query allocates. Triangles without
/// area keep their numbers but are never closest.
class Nearest {
 public:
  explicit Nearest(TriangleMesh mesh);

  const TriangleMesh& mesh() const { return mesh_; }
  /// Unit, outward. A triangle without area borrows its neighbour's; zero if there is none.
  const Vec3& normal(int triangle) const { return normals_[static_cast<std::size_t>(triangle)]; }
  /// Triangle on the other side of edge k of a triangle; -1 on an open edge or where more than two meet.
  int across(int triangle, int edge) const {
    return across_[static_cast<std::size_t>(triangle)][static_cast<std::size_t>(edge)];
  }
  bool is_closed() const { return is_closed_; }  ///< every edge shared by exactly two triangles, opposite ways

  /// Closest point within limit_m; triangle = -1 if there is none.
  Closest closest(const Vec3& p_m, double limit_m = std::numeric_limits<double>::infinity()) const;

  /// closest_on_triangle of one of them.
  Closest closest_on(int triangle, const Vec3& p_m) const;

  /// Distance with a sign: positive outside. Side by the angle-weighted pseudonormal of the closest feature
  /// (Baerentzen & Aanaes, IEEE TVCG 11 (2005) 243; from memory). On an open surface the sign holds only near its
  /// front. Infinite if there are no triangles.
  double signed_distance_m(const Vec3& p_m) const;
  /// Outward pseudonormal (unit) of the feature a closest point lies on.
  Vec3 pseudonormal(const Closest& at) const;

  /// All triangles within radius_m, nearest first, at most out.size() of them. `complete_m` is the radius inside which
  /// the list is complete: radius_m, or the distance of the last one written if out was too small (others at that very
  /// distance may be missing). Returns how many were written.
  int within(const Vec3& p_m, double radius_m, std::span<Closest> out, double& complete_m) const;

  /// Numbers of the triangles whose boxes meet this one, added to `out` in the order of the tree.
  void in_box(const Vec3& low_m, const Vec3& high_m, std::vector<int>& out) const;

  struct Hit {
    int triangle;
    double t_m;  ///< distance along the direction
  };
  /// First triangle hit by the ray from p along the unit direction, from either side, at 0 <= t <= limit. No ray slips
  /// through an edge or corner of a closed surface; one that runs within a triangle's plane does not hit that triangle.
  std::optional<Hit> ray(const Vec3& p_m, const Vec3& direction,
                         double limit_m = std::numeric_limits<double>::infinity()) const;

 private:
  /// Up to four boxes, seen from centre_m_ in units of half_size_m_, a little too large (nearest_tree.cpp: how much).
  struct alignas(16) Node {
    std::array<std::array<float, 4>, 3> low, high;  ///< [axis][child]; an empty child has low = infinity
    std::array<int, 4> first;                       ///< first triangle of a leaf in leaves_, else the number of a node
    std::array<int, 4> count;                       ///< triangles in a leaf; 0 = a node
  };
  struct LeafTriangle {
    Vec3 a_m, b_m, c_m;
    int number;
    TriangleShape shape;  ///< flat ones are never closest, but still close the surface for rays
  };
  struct Part;  ///< what is left to put into the tree (nearest_tree.cpp)

  void build_tree();
  void add_children(std::size_t node, const std::vector<Part>& parts);
  void find_neighbours();
  void set_normals();
  Vec3 facing(int triangle, int edge) const;
  Vec3 edge_normal(int triangle, int edge) const;
  template <class Visit>
  void visit_near(const Vec3& p_m, const double& limit_sq_m2, const Visit& visit) const;

  TriangleMesh mesh_;
  std::vector<Vec3> normals_;
  std::vector<std::array<int, 3>> across_;
  std::vector<Vec3> corner_normals_;  ///< one a point
  std::vector<TriangleShape> shapes_;
  std::vector<LeafTriangle> leaves_;
  std::vector<int> places_;  ///< a triangle, in leaves_
  std::vector<Node> nodes_;
  Vec3 centre_m_ = Vec3::Zero();
  double half_size_m_ = 1.0;
  bool is_closed_ = false;
};

}  // namespace pellicle::mesh
