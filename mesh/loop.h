// What does a closed loop of points enclose? Is it a sound outline, how wide is it, and where must an edge end?
#pragma once

#include "mesh/triangle_mesh.h"

#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace pellicle::mesh {

/// A simple polygon, counter-clockwise, its last point joined to its first. Made by make_loop.
struct Loop {
  std::vector<Vec2> points_m;
  double inscribed_m;  ///< radius of the largest circle inside, to a thousandth from below
};

constexpr std::size_t kMostLoopPoints = 2000;  // crossings are looked for among all pairs of sides

/// What a person must know to mend a loop.
struct LoopFault {
  std::string found, allowed, advice;
};

/// Is it a closed loop that neither crosses nor touches itself and has an area? Any direction; the first point is not
/// repeated at the end.
std::optional<LoopFault> fault_of_loop(const std::vector<Vec2>& points_m);
/// Is some corner too sharp to be meshed?
std::optional<LoopFault> fault_of_corners(const std::vector<Vec2>& points_m);
/// Is every part of the rim, divided into edges, clear of every other part by a share of an edge? Lengths in
/// `unit_m`; `centre_m` is added to the places told.
std::optional<LoopFault> fault_of_rim(const std::vector<Vec2>& rim, double unit_m, const Vec2& centre_m);

/// Counter-clockwise and measured. The points have passed fault_of_loop.
Loop make_loop(std::vector<Vec2> points_m);

bool contains(const Loop& loop, const Vec2& place_m);
double area_m2(const Loop& loop);
/// How far inside the loop; negative outside [m].
double depth_m(const Loop& loop, const Vec2& place_m);

/// The loop cut where an edge must end: at its corners, and in the middle of arcs too small for an edge of `edge_m` to
/// follow. Each piece begins where the one before ends; a smooth loop is one piece.
std::vector<std::vector<Vec2>> pieces(const Loop& loop, const std::function<double(const Vec2&)>& edge_m);

}  // namespace pellicle::mesh
