// Where does the mould carry text or texture that the sheet's elements do not resolve, and how wide and high is it?
//
// Seen from the sheet, straight down. A stroke is what stands out of, or is sunk into, a shape that is smooth at a few
// thicknesses: what an opening (or closing) of the height field with an octagon of that width takes away. Walls, ribs
// and steps that are higher than the relief is deep are shape, not relief: the membrane run is for those. Relief on
// walls steeper than 45 degrees is not looked for.
#pragma once

#include "mesh/nearest.h"

#include <array>
#include <vector>

namespace pellicle::imprint {

struct ReliefSearch {
  double widest_m;   ///< strokes up to this width: a few thicknesses, or elements where these are larger
  double highest_m;  ///< higher than this it is no relief
  double lowest_m;   ///< lower than this it is a flaw of the surface or a printed layer
  double spacing_m;  ///< of the grid: a fraction of the narrowest stroke that matters
  double apart_m;    ///< strokes nearer than this belong to one patch
};
/// For a sheet of this thickness and these finest elements: strokes up to 3 thicknesses or 2 elements wide, up to 2
/// thicknesses high, at least a 30th of it; the grid as fine as a 20th of the thickness, but no more than `cells` in
/// all over an area.
ReliefSearch relief_search(double thickness_m, double element_m, double area_m2, double cells = 4e6);

/// One connected stroke: a letter, a dot, a vein.
struct Stroke {
  std::array<double, 4> box_m;  ///< lowest x, lowest y, highest x, highest y
  mesh::Vec3 place_m;           ///< its highest (or deepest) place, the lowest in x among equals
  double height_m;              ///< over the smooth shape, at most; < 0: sunk
  double width_m;               ///< at half its height, along most of it
  double narrowest_m;           ///< one tenth of it is no wider than this
  double area_m2;               ///< at half its height, seen from above
};

/// Strokes that lie together: a word, a leaf.
struct Patch {
  std::array<double, 4> box_m;
  std::vector<Stroke> strokes;  ///< from left to right, by the left side of the box
};

/// Largest patch first, by the area of its strokes. Empty where there is nothing to be found.
std::vector<Patch> find_relief(const mesh::Nearest& mould, const ReliefSearch& search);

}  // namespace pellicle::imprint
