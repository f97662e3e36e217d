// How is a flat sheet cut finer where it must be? Longest-edge bisection that leaves no hanging node.
#pragma once

#include "mesh/triangle_mesh.h"

#include <span>
#include <vector>

namespace pellicle::mesh {

/// What a refinement made of N points and M triangles. Point N + k is new: the middle of the edge ends[k], whose ends
/// are old points. Children stand in the order of their parents, counter-clockwise as they were.
struct Refined {
  std::vector<Triangle> triangles;
  std::vector<int> parent;               ///< one a triangle: the old triangle it lies in
  std::vector<std::array<int, 2>> ends;  ///< one a new point
};

/// Cuts the longest edge of every wanted triangle, if it is at least twice `shortest_m` long, and whatever else keeps
/// the mesh conforming: a triangle with a cut edge has its longest one cut too. So no half edge is shorter than
/// `shortest_m`, and repeated use keeps every angle above half the smallest of the first mesh (Rivara, Int. J. Numer.
/// Meth. Engng 20 (1984) 745; Rosenberg & Stenger, SIAM J. Numer. Anal. 12 (1975) 357; citations from memory).
/// Same input, same bits.
Refined refine(std::span<const Vec2> points_m, std::span<const Triangle> triangles, std::span<const char> wanted,
               double shortest_m);

}  // namespace pellicle::mesh
