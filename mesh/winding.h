// How many times does a surface go round a point? About 1 inside and 0 outside, even where the surface is spoilt.
#pragma once

#include "mesh/triangle_mesh.h"

#include <Eigen/Core>

#include <array>
#include <span>
#include <vector>

namespace pellicle::mesh {

/// Generalized winding number: the solid angle of all triangles, seen from a point, over 4 pi (Jacobson, Kavan &
/// Sorkine-Hornung, ACM Trans. Graph. 32 (2013) 33; from memory). A hole, a doubled triangle or bodies that overlap
/// change it smoothly, so that `> 1/2` still says "inside". Bodies must face outwards.
///
/// Groups of triangles seen from more than three times their radius count as a dipole and its first moment (after
/// Barill et al., ACM Trans. Graph. 37 (2018) 43; from memory). Off by up to 0.04 (tests/mesh/winding_test.cpp).
class Winding {
 public:
  explicit Winding(const TriangleMesh& mesh);

  /// Safe to ask from many threads at once; does not allocate.
  double at(const Vec3& p_m) const;

 private:
  struct Node {
    Vec3 centre_m;             ///< weighted by area
    double radius_m;           ///< to the farthest corner of its triangles
    Vec3 dipole_m2;            ///< sum of area times normal
    Eigen::Matrix3d first_m3;  ///< sum of area (middle - centre) normal^T
    int first, count;          ///< its triangles in corners_m_
    int skip;                  ///< node that follows when this one is not opened; its children start at the next number
  };
  void add_node(std::span<int> triangles, const TriangleMesh& mesh);

  std::vector<std::array<Vec3, 3>> corners_m_;
  std::vector<Node> nodes_;  ///< parents before their children
};

/// The same with every triangle asked on its own: what the tree is held against.
double winding_by_all(const TriangleMesh& mesh, const Vec3& p_m);

}  // namespace pellicle::mesh
