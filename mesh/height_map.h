// What shape does fine detail have? Heights on a square grid, or a profile that is the same all along a strip or round
// an axis; and what a printer does to them.
//
// Heights are along the normal of the surface that carries the relief, which is 0; what is raised is above 0, what is
// sunk below.
#pragma once

#include <cstddef>
#include <vector>

namespace pellicle::mesh {

/// ny rows of nx square cells, x fastest, y upwards; the middle of cell (i, j) is at ((i + 1/2), (j + 1/2)) spacing
/// from the lower left corner of the patch. Periodic: cell nx is cell 0 again, cell ny likewise.
struct HeightMap {
  int nx = 0, ny = 0;
  double spacing_m = 0.0;
  std::vector<double> height_m;  ///< ny*nx
  bool periodic = false;

  double& at(int i, int j) { return height_m[index(i, j)]; }
  double at(int i, int j) const { return height_m[index(i, j)]; }
  std::size_t index(int i, int j) const {
    return static_cast<std::size_t>(j) * static_cast<std::size_t>(nx) + static_cast<std::size_t>(i);
  }
};

/// All cells at height 0.
HeightMap flat_map(int nx, int ny, double spacing_m, bool periodic = false);

double lowest_m(const HeightMap& map);
double highest_m(const HeightMap& map);
/// Sum of height times area of the cells [m^3].
double volume_m3(const HeightMap& map);

/// Bilinear between the middles of the cells; x, y from the lower left corner. Outside a patch that is not periodic,
/// and within half a cell of its border, the border's height goes on.
double height_at(const HeightMap& map, double x_m, double y_m);

/// On a grid of another spacing over the same middle, nx*ny cells; where that grid is coarser the heights are first
/// averaged over its cells, so that nothing falls between them.
HeightMap resampled(const HeightMap& map, int nx, int ny, double spacing_m);

/// In the middle of a larger patch at height 0 (to whole cells, the odd one right and above). nx >= map.nx, ny
/// likewise.
HeightMap framed(const HeightMap& map, int nx, int ny);

/// Mean over a square of `pixel_m` about each place: the finest light of the printer, placed anywhere. The mean height
/// of a periodic map stays. A pixel smaller than a cell changes nothing.
HeightMap blurred(const HeightMap& map, double pixel_m);

/// Heights to the nearest whole number of layers from the land: a printer that slices in the middle of each layer. At
/// most half a layer is lost or gained.
HeightMap in_layers(const HeightMap& map, double layer_m);

/// Walls lean by `draft_rad` off the normal, 0 < draft < pi/2: z(x) = max over y of z(y) - |x - y| / tan(draft). Tops
/// of what is raised and mouths of what is sunk keep their size; feet grow and floors shrink by depth tan(draft).
HeightMap with_draft(const HeightMap& map, double draft_rad);

/// Outward edges rounded to a radius: what a ball of that radius can fill from within (grey-scale opening: Serra, Image
/// Analysis and Mathematical Morphology, 1982; from memory). A ridge narrower than two radii loses height.
HeightMap with_round_edges(const HeightMap& map, double radius_m);

/// Height over x, straight between points. Strip: the same all along y. Round: about x = 0, where it starts.
struct Profile {
  enum class Kind { kStrip, kRound };
  Kind kind = Kind::kStrip;
  std::vector<double> x_m, z_m;  ///< at least two; x strictly rising, from 0 if round
};

/// The ends' heights go on outside.
double height_at(const Profile& profile, double x_m);

/// A strip as one row of cells, each the height at its middle; the cells fill the profile's length, so the spacing is
/// at most `most_spacing_m`.
HeightMap row_of(const Profile& strip, double most_spacing_m, bool periodic);

}  // namespace pellicle::mesh
