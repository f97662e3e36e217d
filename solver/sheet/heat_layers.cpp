// What do other rooms need of a node's heat?
#include "solver/sheet/heat_layers.h"

#include "mesh/check.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace pellicle::sheet {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

struct Point {
  double share, T_K;
};

/// Depth from the first point at which a line through the points first reaches set_K, as a share.
double share_below(const std::vector<Point>& points, double set_K) {
  if (points.front().T_K >= set_K) return 0.0;
  for (std::size_t i = 1; i < points.size(); ++i) {
    const Point &a = points[i - 1], &b = points[i];
    if (b.T_K >= set_K) {
      const double reached = a.share + (b.share - a.share) * (set_K - a.T_K) / (b.T_K - a.T_K);
      return std::fabs(reached - points.front().share);
    }
  }
  return 1.0;
}

double hottest_K(const HeatState& s, int node) {
  const std::size_t first = at(node / kHeatLanes) * at(s.cells);
  double hottest = 0.0;
  for (int c = 0; c < s.cells; ++c) hottest = std::max(hottest, s.sheet_K[first + at(c)][node % kHeatLanes]);
  return hottest;
}

/// A sheet of one node, as the wall is.
HeatState one_node(const CoolingWall& wall) {
  const std::vector<Vec2> place(1, Vec2::Zero());
  const int cells = static_cast<int>(wall.profile.cell_K.size());
  const double start_K = wall.profile.cell_K.front();
  HeatState s = hot_sheet(
      wall.material, cells, place, wall.profile.thickness_m,
      [=](const Vec2&) {
        return FaceTemperatures{start_K, start_K};
      },
      start_K);
  for (int c = 0; c < cells; ++c) s.sheet_K[at(c)].setConstant(wall.profile.cell_K[at(c)]);
  if (wall.contact_W_m2K > 0.0) {
    ensure(wall.mould_K.size() == at(kMouldCells), "a wall on the mould says how warm the mould is");
    for (int j = 0; j < kMouldCells; ++j) s.mould_K[at(j)].setConstant(wall.mould_K[at(j)]);
  }
  return s;
}

}  // namespace

std::vector<int> layer_cells(std::span<const double> edges, std::span<const double> cuts) {
  const int cells = static_cast<int>(edges.size()) - 1;
  std::vector<int> first{0};
  for (const double cut : cuts) {
    ensure(cut > 0.0 && cut < 1.0, "a cut lies inside the sheet");
    int nearest = 0;
    for (int k = 1; k <= cells; ++k)
      if (std::fabs(edges[at(k)] - cut) < std::fabs(edges[at(nearest)] - cut)) nearest = k;
    if (nearest > first.back() && nearest < cells) first.push_back(nearest);
  }
  first.push_back(cells);
  return first;
}

SetDepth set_depth(const HeatProfile& profile, double set_K) {
  std::vector<Point> points{{0.0, profile.face_K}};
  for (std::size_t c = 0; c < profile.cell_K.size(); ++c)
    points.push_back({0.5 * (profile.edges[c] + profile.edges[c + 1]), profile.cell_K[c]});
  points.push_back({1.0, profile.free_face_K});
  const double below = share_below(points, set_K);
  std::reverse(points.begin(), points.end());
  return {profile.thickness_m * below, profile.thickness_m * share_below(points, set_K)};
}

CoolingWall cooling_wall(const HeatState& s, int node, const HeatStep& sides) {
  const std::size_t i = at(node), block = at(node / kHeatLanes);
  CoolingWall wall{s.material, heat_profile(s, node), sides.free_side, sides.open_side};
  if (sides.contact_s[i] > 0.0) {
    wall.contact_W_m2K = sides.contact_W_m2K;
    wall.mould_effusivity_Ws05_m2K = sides.mould_effusivity_Ws05_m2K[i];
    for (int j = 0; j < kMouldCells; ++j)
      wall.mould_K.push_back(s.mould_K[block * kMouldCells + at(j)][node % kHeatLanes]);
  }
  return wall;
}

double cooling_time_s(const CoolingWall& wall, double set_K, double longest_s) {
  const bool touches = wall.contact_W_m2K > 0.0;
  const std::vector<double> thickness_m(1, wall.profile.thickness_m), effusivity(1, wall.mould_effusivity_Ws05_m2K);
  const std::vector<double> contact_s(1, touches ? std::numeric_limits<double>::infinity() : 0.0);
  const HeatStep sides{
      0.0, thickness_m, contact_s, effusivity, touches ? wall.contact_W_m2K : 1.0, wall.free_side, wall.open_side};
  return cooling_times_s(one_node(wall), sides, std::vector<char>(1, 1), set_K, longest_s).front();
}

std::vector<double> cooling_times_s(HeatState s, HeatStep sides, std::span<const char> asked, double set_K,
                                    double longest_s) {
  const int n = s.count;
  ensure(asked.size() == at(n) && sides.thickness_m.size() == at(n), "cooling has one value a node");
  std::vector<double> hot_K(at(n)), times_s(at(n), std::numeric_limits<double>::infinity());
  int left = 0;
  for (int i = 0; i < n; ++i) {
    hot_K[at(i)] = hottest_K(s, i);
    if (hot_K[at(i)] < set_K) times_s[at(i)] = 0.0;
    if (asked[at(i)] && hot_K[at(i)] >= set_K) ++left;
  }
  // The hottest cell follows a curve that bends over times as long as it has cooled or as heat needs through the sheet,
  // so the line between the ends of a step is off by (step/time)^2/8 of a step at most.
  const double thickest_m = *std::max_element(sides.thickness_m.begin(), sides.thickness_m.end());
  const double cross_s = thickest_m * thickest_m / s.material.diffusivity_m2_s();
  for (double t_s = 0.0; left > 0 && t_s < longest_s; t_s += sides.dt_s) {
    sides.dt_s = std::min(0.05 * std::max(t_s, 0.1 * cross_s), longest_s - t_s);
    exchange_heat(s, sides);
    for (int i = 0; i < n; ++i) {
      if (times_s[at(i)] < std::numeric_limits<double>::infinity()) continue;
      const double was_K = hot_K[at(i)];
      hot_K[at(i)] = hottest_K(s, i);
      if (hot_K[at(i)] >= set_K) continue;
      times_s[at(i)] = t_s + sides.dt_s * (was_K - set_K) / (was_K - hot_K[at(i)]);
      if (asked[at(i)]) --left;
    }
  }
  return times_s;
}

}  // namespace pellicle::sheet
