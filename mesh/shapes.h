// What simple moulds have a volume and an area one can write down? Closed solids for tests and for `verify`.
//
// All are closed, welded and counter-clockwise seen from outside. `facets` is the number of flats of a round wall,
// whose corners lie on the circle, the first at +x.
#pragma once

#include "mesh/triangle_mesh.h"

namespace pellicle::mesh {

/// Floors of the cavities below are this fraction of the depth thick: the solid's flat underside is at
/// z_top - (1 + kCavityFloor) depth.
inline constexpr double kCavityFloor = 0.25;

TriangleMesh box(const Vec3& low_m, const Vec3& high_m);

/// Plate on z = 0 about the z axis whose four walls lean inwards by `draft_rad` off upright; half sides are of its
/// foot.
TriangleMesh drafted_plate(double half_x_m, double half_y_m, double height_m, double draft_rad);

/// Upright, axis x = y = 0, with both ends.
TriangleMesh cylinder(double radius_m, double z0_m, double z1_m, int facets);

/// Icosahedron with every triangle split in four `subdivisions` times (20 * 4^n triangles), points on the sphere.
TriangleMesh sphere(const Vec3& centre_m, double radius_m, int subdivisions);

/// Round block with an upright cylindrical cavity, open at the top: its top face is the ring at z_top. Top, wall and
/// floor of the cavity are split into `rings` bands.
TriangleMesh cup(double radius_m, double depth_m, double z_top_m, double outer_radius_m, int facets, int rings);

/// Round block with a conical cavity that ends in a point: depth = opening radius * tan(wall angle).
TriangleMesh cone_cup(double opening_radius_m, double wall_angle_from_horizontal_rad, double z_top_m,
                      double outer_radius_m, int facets);

/// Block of x = +-outer, y = +-half_length, with a rectangular channel of x = +-half_width along y, open at both ends.
TriangleMesh trench(double half_width_m, double depth_m, double z_top_m, double half_length_m, double outer_m);

/// A rectangular pocket, closed on all four sides, in a block of half sides half_x + margin and half_y + margin.
TriangleMesh pocket(double half_x_m, double half_y_m, double depth_m, double z_top_m, double margin_m);

}  // namespace pellicle::mesh
