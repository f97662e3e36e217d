// How wide is what the mould does not hold yet?
#include "solver/forming/free_span.h"

#include <functional>
#include <limits>
#include <queue>
#include <utility>

namespace pellicle::forming {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

}  // namespace

double free_half_width_m(const sheet::SheetState& s, const std::vector<Touch>& touch) {
  constexpr double kStrip = 1.531;
  using Item = std::pair<double, int>;
  std::priority_queue<Item, std::vector<Item>, std::greater<>> next;
  std::vector<double> away_m(at(s.nodes()), std::numeric_limits<double>::infinity());
  for (int i = 0; i < s.nodes(); ++i)
    if (s.on_rim[at(i)] || touch[at(i)].anchored) away_m[at(i)] = 0.0, next.emplace(0.0, i);
  double farthest_m = 0.0;
  while (!next.empty()) {
    const auto [away, i] = next.top();
    next.pop();
    if (away > away_m[at(i)]) continue;
    farthest_m = away;
    for (int k = s.first_corner[at(i)]; k < s.first_corner[at(i) + 1]; ++k)
      for (const int j : s.triangles[at(s.corners[at(k)] / 3)]) {
        const double there_m = away + (s.flat_m[at(j)] - s.flat_m[at(i)]).norm();
        if (there_m < away_m[at(j)]) away_m[at(j)] = there_m, next.emplace(there_m, j);
      }
  }
  return kStrip * farthest_m;
}

}  // namespace pellicle::forming
