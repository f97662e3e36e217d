// What does the clamped sheet look like before the gas comes on? A flat triangle mesh of its free outline.
#pragma once

#include "mesh/loop.h"
#include "mesh/triangle_mesh.h"

#include <optional>
#include <variant>
#include <vector>

namespace pellicle::mesh {

struct Disc {
  double diameter_m;
};
struct RoundedRectangle {
  double width_m;   ///< along x
  double depth_m;   ///< along y
  double corner_m;  ///< corner radius; 0 = sharp
};

/// The sheet inside the clamp: what is free to move.
struct Outline {
  std::variant<Disc, RoundedRectangle, Loop> shape;
  Vec2 centre_m = Vec2::Zero();  ///< the points of a loop count from here
};

/// Half the smallest width of the outline, R of docs/theory/time.md; of a loop the radius of the largest circle in it,
/// which is the same for discs and rectangles [m].
double half_width_m(const Outline& outline);
/// Is the place inside the outline?
bool contains(const Outline& outline, const Vec2& place_m);
/// Area of the outline [m^2].
double area_m2(const Outline& outline);
/// Longer side of the box around the outline [m].
double longer_side_m(const Outline& outline);
/// What of the outline is too narrow for edges of that length everywhere? Nothing but a loop can be.
std::optional<LoopFault> fault_of_outline(const Outline& outline, double element_m);

/// Edge length wanted: element_m inside the box (everywhere without one), growing linearly to rim_element_m at the rim.
struct SheetSize {
  double element_m;
  double rim_element_m;
  struct Box {
    Vec2 low_m, high_m;
  };
  std::optional<Box> fine_box;
};

/// Nodes and triangles are numbered along a Hilbert curve; triangles are counter-clockwise seen from +z.
struct SheetMesh {
  std::vector<Vec2> flat_m;
  std::vector<Triangle> triangles;
  std::vector<char> on_rim;  ///< 1 = held by the clamp
  double min_quality;        ///< smallest 4 sqrt(3) A / sum l^2, 1 = equilateral
  double mean_quality;
};

/// Meshes the outline with Gmsh (frontal Delaunay). Same input, same bits. Throws Error (case) for an outline or sizes
/// that make no sheet, Error (geometry) if nothing usable comes out.
SheetMesh mesh_sheet(const Outline& outline, const SheetSize& size);

}  // namespace pellicle::mesh
