// How does a surface become a picture? Seen straight (no perspective, so one scale holds all over), nearest wins.
#pragma once

#include "io/report/colour_map.h"
#include "mesh/triangle_mesh.h"

#include <cstdint>
#include <span>
#include <vector>

namespace pellicle::report {

/// Rows from the top, four bytes a pixel: red, green, blue, opacity.
struct Picture {
  int width = 0, height = 0;
  std::vector<std::uint8_t> rgba;
  const std::uint8_t* at(int x, int y) const {
    return rgba.data() +
           4 * (static_cast<std::size_t>(y) * static_cast<std::size_t>(width) + static_cast<std::size_t>(x));
  }
};

/// A parallel view.
struct Camera {
  mesh::Vec3 right, up, towards;  ///< unit, at right angles; `towards` points from the surface to the eye
  mesh::Vec3 middle_m;            ///< seen in the middle of the picture
  double px_per_m;
  int width_px, height_px;
  /// x from the left edge and y from the top edge in px; then metres towards the eye.
  mesh::Vec3 seen(const mesh::Vec3& p_m) const;
};

/// A view of a box from the side the angles say: azimuth from +x counter-clockwise, height over the horizon (both rad,
/// height below pi/2 or at it). All of the box is in the picture, with a margin of 4 %.
Camera camera_on(const mesh::Vec3& low_m, const mesh::Vec3& high_m, double azimuth_rad, double height_rad, int width_px,
                 int height_px);

/// Coloured by one value a node, from `low` to `high`; low < high. A triangle with a NaN corner is drawn in stripes of
/// grey: no value there.
struct Coloured {
  std::span<const mesh::Vec3> points_m;
  std::span<const mesh::Triangle> triangles;
  std::span<const double> values;
  double low, high;
  Colours colours = Colours::kAmount;
};

/// Shaded by the surface's own normals, lit from the upper left, both sides alike. `samples` a side of each pixel;
/// pixels nothing covers are transparent. Same bytes for same numbers.
Picture drawn(const Coloured& surface, const Camera& camera, int samples = 2);

/// Whether a triangle lies before the place by more than `by_m` as the camera sees it.
bool is_hidden(std::span<const mesh::Vec3> points_m, std::span<const mesh::Triangle> triangles, const Camera& camera,
               const mesh::Vec3& place_m, double by_m);

/// From least on the left to most on the right.
Picture colour_bar(int width_px, int height_px, Colours colours = Colours::kAmount);

/// Means over the nodes' triangles, weighted with area; zero where a node has none.
std::vector<mesh::Vec3> node_normals(std::span<const mesh::Vec3> points_m, std::span<const mesh::Triangle> triangles);

}  // namespace pellicle::report
