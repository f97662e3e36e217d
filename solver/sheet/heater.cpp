// How warm is each place of the sheet as it leaves the heater?
#include "solver/sheet/heater.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace pellicle::sheet {
namespace {

using Side = std::array<Vec2, 2>;

/// Edges of the rim: those of one triangle alone.
std::vector<Side> rim_of(const FlatSheet& sheet) {
  std::vector<std::array<int, 2>> edges;
  for (const mesh::Triangle& t : sheet.triangles)
    for (std::size_t c = 0; c < 3; ++c) {
      const int i = t[c], j = t[(c + 1) % 3];
      if (sheet.on_rim[static_cast<std::size_t>(i)] && sheet.on_rim[static_cast<std::size_t>(j)])
        edges.push_back({std::min(i, j), std::max(i, j)});
    }
  std::sort(edges.begin(), edges.end());
  std::vector<Side> rim;
  for (std::size_t k = 0; k < edges.size(); ++k) {
    const bool twice = (k > 0 && edges[k] == edges[k - 1]) || (k + 1 < edges.size() && edges[k] == edges[k + 1]);
    const auto place = [&](int i) { return sheet.flat_m[static_cast<std::size_t>(i)]; };
    if (!twice) rim.push_back({place(edges[k][0]), place(edges[k][1])});
  }
  return rim;
}

double distance_m(const std::vector<Side>& rim, const Vec2& p) {
  double least_sq = std::numeric_limits<double>::infinity();
  for (const Side& side : rim) {
    const Vec2 along = side[1] - side[0];
    const double share = std::clamp((p - side[0]).dot(along) / along.squaredNorm(), 0.0, 1.0);
    least_sq = std::min(least_sq, (p - side[0] - share * along).squaredNorm());
  }
  return std::sqrt(least_sq);
}

}  // namespace

StartTemperature start_temperature(const HeatSpec& heat, const FlatSheet& sheet) {
  const HeaterSpec& heater = heat.heater;
  const std::vector<Side> rim = heater.cold_rim_m > 0.0 ? rim_of(sheet) : std::vector<Side>{};
  return [heater, rim, all_K = heat.start_K](const Vec2& flat_m) -> FaceTemperatures {
    const double inside_K = heater.map ? (*heater.map)(flat_m).mould_side_K + heater.map_shift_K : all_K;
    const double share = rim.empty() ? 1.0 : std::min(1.0, distance_m(rim, flat_m) / heater.cold_rim_m);
    const double mean_K = inside_K + (1.0 - share) * (heater.clamp_K - inside_K);
    // At the clamp both faces are as warm as it is.
    const double half_K = 0.5 * share * heater.face_difference_K;
    return {mean_K + half_K, mean_K - half_K};
  };
}

HeatSpec warmer(HeatSpec heat, double by_K) {
  heat.start_K += by_K;
  heat.heater.map_shift_K += by_K;
  if (heat.heater.cold_rim_m > 0.0) heat.heater.clamp_K += by_K;
  return heat;
}

}  // namespace pellicle::sheet
