// Which hollows of a relief does the sheet close, and what pressure does the air in them come to?
#include "solver/imprint/shut_air.h"

#include "mesh/check.h"
#include "solver/air/throat.h"
#include "solver/imprint/map_strokes.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <exception>
#include <functional>
#include <limits>
#include <queue>
#include <string>
#include <utility>

namespace pellicle::imprint {
namespace {

using mesh::HeightMap;

constexpr double kShallow = 0.25;     // of the relief: flatter basins are what is left of the mould's own shape
constexpr std::size_t kFewCells = 9;  // three a side: what a stroke needs to be seen
constexpr double kBalance = 1e-3;     // of a hollow's volume; the press knows depths to 3e-3
constexpr int kSweeps = 40;           // false position needs about five

double x_m(const HeightMap& map, std::size_t c) {
  return (static_cast<double>(c % static_cast<std::size_t>(map.nx)) + 0.5) * map.spacing_m;
}
double y_m(const HeightMap& map, std::size_t c) {
  return (static_cast<double>(c / static_cast<std::size_t>(map.nx)) + 0.5) * map.spacing_m;
}

template <class What>
void for_neighbours(const HeightMap& map, std::size_t c, const What& what) {
  const auto nx = static_cast<std::size_t>(map.nx);
  if (c % nx > 0) what(c - 1);
  if (c % nx + 1 < nx) what(c + 1);
  if (c >= nx) what(c - nx);
  if (c + nx < map.height_m.size()) what(c + nx);
}

bool on_border(const HeightMap& map, std::size_t c) {
  const auto nx = static_cast<std::size_t>(map.nx), ny = static_cast<std::size_t>(map.ny);
  return c % nx == 0 || c % nx + 1 == nx || c / nx == 0 || c / nx + 1 == ny;
}

/// Level to which each cell can be filled before it runs over to where it is drained: cells in the order of their
/// level, from the drains inwards (priority flood: Barnes, Lehman and Mulla, Computers and Geosciences 62 (2014) 117;
/// from memory).
std::vector<double> flooded(const HeightMap& map, const LetsOut& lets_out) {
  using Entry = std::pair<double, std::size_t>;
  std::priority_queue<Entry, std::vector<Entry>, std::greater<>> open;
  std::vector<double> level(map.height_m.size(), std::numeric_limits<double>::quiet_NaN());
  const auto reach = [&](std::size_t c, double level_m) {
    if (!std::isnan(level[c])) return;
    level[c] = std::max(level_m, map.height_m[c]);
    open.emplace(level[c], c);
  };
  for (std::size_t c = 0; c < level.size(); ++c)
    if (on_border(map, c) || lets_out(x_m(map, c), y_m(map, c), 0.5 * map.spacing_m)) reach(c, map.height_m[c]);
  while (!open.empty()) {
    const auto [level_m, c] = open.top();
    open.pop();
    for_neighbours(map, c, [&](std::size_t next) { reach(next, level_m); });
  }
  return level;
}

/// All wet cells that hang together with the first by their sides; all stand at one level.
Hollow gathered(const HeightMap& map, const std::vector<double>& level, std::size_t first, std::vector<char>& seen) {
  Hollow h{{first}, first, level[first], 0.0};
  seen[first] = true;
  for (std::size_t k = 0; k < h.cells.size(); ++k) {
    const std::size_t c = h.cells[k];
    h.volume_m3 += (level[c] - map.height_m[c]) * map.spacing_m * map.spacing_m;
    if (map.height_m[c] < map.height_m[h.deepest]) h.deepest = c;
    for_neighbours(map, c, [&](std::size_t next) {
      if (seen[next] || !(level[next] > map.height_m[next])) return;
      seen[next] = true;
      h.cells.push_back(next);
    });
  }
  return h;
}

/// Root in 0..1 of f = F (1 - (p0/p) f/(1 - f)), eq. (7): (1 - f)(F - f) = F (p0/p) f.
double evenly_filled(double filled_free, double pressure_Pa) {
  const double b = 1.0 + filled_free + filled_free * air::kAtmosphere_Pa / pressure_Pa;
  return 2.0 * filled_free / (b + std::sqrt(b * b - 4.0 * filled_free));
}

/// height_m counts from the highest place of the map.
double filled_by(const HeightMap& map, double top_m, const Hollow& h, const std::vector<double>& height_m) {
  double air_m = 0.0;
  for (const std::size_t c : h.cells) air_m += height_m[c] + top_m - map.height_m[c];
  return std::clamp(1.0 - air_m * map.spacing_m * map.spacing_m / h.volume_m3, 0.0, 1.0);
}

std::optional<SectionResult> over_air(const SectionOverAir& asked, const SectionResult& free, const LocalState& state,
                                      SectionTouch touch, const Stop& stop, std::string& failed) {
  AirBalance balance(state.pressure_Pa, filled_in_section(asked.section, free, asked.rim_m, asked.about_m));
  LocalState left = state;
  for (int k = 0; k < kSweeps; ++k) {
    if (stop()) throw Stopped{};
    left.pressure_Pa = state.pressure_Pa - balance.try_Pa();
    auto result = solve_touch(asked.section, left, touch, failed);
    if (!result || balance.told(filled_in_section(asked.section, *result, asked.rim_m, asked.about_m))) return result;
  }
  failed = "no pressure of the air shut in was found that balances";
  return {};
}

/// Looked for in the hollow's box and a margin around it, twice as wide until the way is no longer than that: what lies
/// beyond is farther.
double way_out_m(const HeightMap& map, const Hollow& h, const std::vector<char>& closed, double lowest_open_m) {
  const int nx = map.nx;
  int i0 = nx, i1 = 0, j0 = map.ny, j1 = 0;
  for (const std::size_t c : h.cells) {
    const int i = static_cast<int>(c) % nx, j = static_cast<int>(c) / nx;
    i0 = std::min(i0, i), i1 = std::max(i1, i), j0 = std::min(j0, j), j1 = std::max(j1, j);
  }
  const double middle_m = 0.5 * (h.rim_m + map.height_m[h.deepest]);
  // Without land so low the way is that to the border.
  if (lowest_open_m > middle_m) return map.spacing_m * std::min({i0, j0, nx - 1 - i1, map.ny - 1 - j1});
  for (int margin = 4;; margin *= 2) {
    const int left = std::max(0, i0 - margin), right = std::min(nx - 1, i1 + margin);
    const int low = std::max(0, j0 - margin), high = std::min(map.ny - 1, j1 + margin);
    const HeightMap box = mesh::flat_map(right - left + 1, high - low + 1, map.spacing_m);
    const auto in_map = [&](std::size_t b) {
      const auto wide = static_cast<std::size_t>(box.nx);
      return (static_cast<std::size_t>(low) + b / wide) * static_cast<std::size_t>(nx) +
             static_cast<std::size_t>(left) + b % wide;
    };
    std::vector<char> out(box.height_m.size());
    for (std::size_t b = 0; b < out.size(); ++b) {
      const std::size_t c = in_map(b);
      out[b] = on_border(map, c) || (!closed[c] && map.height_m[c] <= middle_m);
    }
    if (std::find(out.begin(), out.end(), 1) == out.end()) continue;  // the whole map has its border
    const std::vector<double> distance = distance_m(box, out);
    double least_m = std::numeric_limits<double>::infinity();
    for (const std::size_t c : h.cells) {
      const auto i = static_cast<int>(c) % nx - left, j = static_cast<int>(c) / nx - low;
      least_m = std::min(least_m, distance[static_cast<std::size_t>(j * box.nx + i)]);
    }
    const bool is_whole = box.nx == nx && box.ny == map.ny;
    if (is_whole || least_m <= margin * map.spacing_m) return least_m;
  }
}

}  // namespace

std::vector<Hollow> closed_hollows(const HeightMap& map, const LetsOut& lets_out) {
  std::vector<Hollow> all;
  if (map.nx < 3 || map.ny < 3) return all;
  const double least_m = kShallow * (highest_m(map) - lowest_m(map));
  const std::vector<double> level = flooded(map, lets_out);
  std::vector<char> seen(level.size());
  for (std::size_t c = 0; c < level.size(); ++c) {
    if (seen[c] || !(level[c] > map.height_m[c])) continue;
    Hollow h = gathered(map, level, c, seen);
    if (h.cells.size() >= kFewCells && h.rim_m - map.height_m[h.deepest] >= least_m) all.push_back(std::move(h));
  }
  return all;
}

std::vector<double> ways_out_m(const HeightMap& map, const std::vector<Hollow>& hollows, const Stop& stop) {
  std::vector<char> closed(map.height_m.size());
  for (const Hollow& h : hollows)
    for (const std::size_t c : h.cells) closed[c] = true;
  double lowest_open_m = std::numeric_limits<double>::infinity();
  for (std::size_t c = 0; c < closed.size(); ++c)
    if (!closed[c]) lowest_open_m = std::min(lowest_open_m, map.height_m[c]);
  std::vector<double> ways;
  for (const Hollow& h : hollows) {
    if (stop()) throw Stopped{};
    ways.push_back(way_out_m(map, h, closed, lowest_open_m));
  }
  return ways;
}

AirBalance::AirBalance(double pressure_Pa, double filled_free)
    : high_Pa_(pressure_Pa),
      at_low_(filled_free),
      at_high_(-pressure_Pa / (pressure_Pa + air::kAtmosphere_Pa)),
      narrow_Pa_(kBalance * pressure_Pa) {
  const double filled = evenly_filled(filled_free, pressure_Pa);
  try_Pa_ =
      std::clamp(air::kAtmosphere_Pa * filled / std::max(1.0 - filled, kBalance), 0.0, (1.0 - kBalance) * pressure_Pa);
}

bool AirBalance::told(double filled) {
  off_ = filled - try_Pa_ / (try_Pa_ + air::kAtmosphere_Pa);
  if (std::fabs(off_) <= kBalance || high_Pa_ - low_Pa_ <= narrow_Pa_) return true;
  // Illinois: an end that stays twice counts half (Dowell and Jarratt, BIT 11 (1971) 168; from memory).
  if (off_ > 0.0) {
    low_Pa_ = try_Pa_, at_low_ = off_;
    if (side_ == 1) at_high_ *= 0.5;
    side_ = 1;
  } else {
    high_Pa_ = try_Pa_, at_high_ = off_;
    if (side_ == -1) at_low_ *= 0.5;
    side_ = -1;
  }
  try_Pa_ = low_Pa_ + (high_Pa_ - low_Pa_) * at_low_ / (at_low_ - at_high_);
  return false;
}

SealedPatch pressed_with_air(const HeightMap& map, bool periodic, const LocalState& state, const Stop& stop,
                             const std::vector<Hollow>& hollows, const std::vector<double>& free_height_m) {
  constexpr double kOff = 0.01;  // hollows close to each other shift each other's balance by less than this
  const double top_m = highest_m(map);
  PatchPress press(map, periodic, state, stop);
  SealedPatch out;
  std::vector<AirBalance> balance;
  for (const Hollow& h : hollows) {
    out.filled_free.push_back(filled_by(map, top_m, h, free_height_m));
    balance.emplace_back(state.pressure_Pa, out.filled_free.back());
  }
  out.filled.resize(hollows.size());
  out.back_Pa.assign(map.height_m.size(), 0.0);
  bool settled = false;
  for (int sweep = 0; !settled && sweep < kSweeps; ++sweep) {
    for (std::size_t k = 0; k < hollows.size(); ++k)
      for (const std::size_t c : hollows[k].cells) out.back_Pa[c] = balance[k].try_Pa();
    const std::vector<double>& height_m = press.height_m(out.back_Pa);
    settled = true;
    out.pressure_Pa.clear();
    for (std::size_t k = 0; k < hollows.size(); ++k) {
      out.filled[k] = filled_by(map, top_m, hollows[k], height_m);
      out.pressure_Pa.push_back(balance[k].try_Pa());
      if (!balance[k].told(out.filled[k])) settled = false;
    }
  }
  for (const AirBalance& b : balance)
    if (!settled || std::fabs(b.off()) > kOff)
      throw Error({Fault::Kind::kSolution, "relief, air shut in its hollows",
                   fmt::format("a balance off by {:.2g} of a hollow", std::fabs(b.off())),
                   fmt::format("{:.2g} of it", kBalance), "a finer grid, or numerics.trapped_air = false"});
  out.patch = press.patch(out.back_Pa);
  return out;
}

double filled_in_section(const CrossSection& section, const SectionResult& result, double rim_m, double about_m) {
  constexpr int kLooks = 400;
  const auto& points = section.profile.points;
  const double from_m = points.front().x_m, to_m = points.back().x_m, step_m = (to_m - from_m) / kLooks;
  double whole = 0.0, left = 0.0;
  for (const double side : {1.0, -1.0})
    for (int k = 0; k < kLooks; ++k) {
      const double x = about_m + side * (k + 0.5) * step_m;
      if (x < from_m || x > to_m) break;
      const double mould_m = height_on(points, x), weight = section.plane == SectionPlane::kRound ? x : 1.0;
      if (mould_m >= rim_m) break;
      whole += weight * (rim_m - mould_m);
      left += weight * (underside_m(result, x) - mould_m);
    }
  return whole > 0.0 ? std::clamp(1.0 - left / whole, 0.0, 1.0) : 0.0;
}

std::vector<BothTouches> solve_over_air(const std::vector<SectionOverAir>& asked, const LocalState& state,
                                        const Stop& stop) {
  std::vector<BothTouches> out(asked.size());
  std::exception_ptr broken;
#pragma omp parallel for schedule(dynamic, 1)
  for (std::size_t k = 0; k < 2 * asked.size(); ++k) {
    const SectionOverAir& a = asked[k / 2];
    const bool sticks = k % 2 == 0;
    const auto& free = sticks ? a.free.stick : a.free.slip;
    auto& result = sticks ? out[k / 2].stick : out[k / 2].slip;
    std::string& failed = sticks ? out[k / 2].stick_failed : out[k / 2].slip_failed;
    failed = sticks ? a.free.stick_failed : a.free.slip_failed;
    try {
      if (free) result = over_air(a, *free, state, sticks ? SectionTouch::kStick : SectionTouch::kSlip, stop, failed);
    } catch (...) {
#pragma omp critical(pellicle_sections_over_air)
      broken = std::current_exception();
    }
  }
  if (broken) std::rethrow_exception(broken);
  return out;
}

}  // namespace pellicle::imprint
