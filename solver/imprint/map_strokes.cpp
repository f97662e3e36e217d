// Which strokes does a relief have: where do they run, how wide are they, what do they enclose?
#include "solver/imprint/map_strokes.h"

#include <algorithm>
#include <cmath>
#include <complex>
#include <limits>
#include <numbers>

namespace pellicle::imprint {
namespace {

using mesh::HeightMap;

constexpr double kLevel = 0.025;     // of the relief: what lies this near to a level is on it
constexpr double kLeastCells = 3.0;  // narrower is noise of the grid

std::size_t at(int i) { return static_cast<std::size_t>(i); }

double share_on(const std::vector<double>& heights, double level_m, double relief_m) {
  const auto on = [&](double z) { return std::fabs(z - level_m) <= kLevel * relief_m; };
  return static_cast<double>(std::count_if(heights.begin(), heights.end(), on)) / static_cast<double>(heights.size());
}

std::vector<double> border_of(const HeightMap& map) {
  if (map.periodic || map.ny == 1) return map.height_m;
  std::vector<double> border;
  for (int j = 0; j < map.ny; ++j)
    for (int i = 0; i < map.nx; ++i)
      if (i == 0 || j == 0 || i == map.nx - 1 || j == map.ny - 1) border.push_back(map.at(i, j));
  return border;
}

/// The patch with a margin in which it goes on as its border or its period does.
struct Wider {
  int nx, ny, margin;
  std::vector<char> marked;
};

Wider widened(const HeightMap& map, const std::vector<char>& marked, int margin) {
  Wider wide{map.nx + 2 * margin, map.ny + 2 * margin, margin, {}};
  wide.marked.reserve(at(wide.nx) * at(wide.ny));
  const auto inside = [&](int i, int n) { return map.periodic ? ((i % n) + n) % n : std::clamp(i, 0, n - 1); };
  for (int j = -margin; j < map.ny + margin; ++j)
    for (int i = -margin; i < map.nx + margin; ++i)
      wide.marked.push_back(marked[map.index(inside(i, map.nx), inside(j, map.ny))]);
  return wide;
}

std::vector<double> cropped(const HeightMap& map, const Wider& wide, const std::vector<double>& field) {
  std::vector<double> out;
  out.reserve(map.height_m.size());
  for (int j = 0; j < map.ny; ++j)
    for (int i = 0; i < map.nx; ++i) out.push_back(field[at(j + wide.margin) * at(wide.nx) + at(i + wide.margin)]);
  return out;
}

/// As distance_to_edge, but what goes on beyond the patch has no edge there.
std::vector<double> distance_in(const HeightMap& map, const std::vector<char>& marked) {
  const std::vector<double> least = distance_to_edge(marked, map.nx, map.ny);
  // Half a stroke on the border may be twice as wide as what is seen of it.
  const int margin = 2 + static_cast<int>(2.0 * *std::max_element(least.begin(), least.end()));
  const Wider wide = widened(map, marked, std::min(margin, std::max(map.nx, map.ny)));
  return cropped(map, wide, distance_to_edge(wide.marked, wide.nx, wide.ny));
}

/// parts_of over the ends of a period, too; numbers in the order of the rows.
Parts parts_on(const HeightMap& map, const std::vector<char>& marked) {
  Parts parts = parts_of(marked, map.nx, map.ny);
  if (!map.periodic) return parts;
  std::vector<int> root(at(parts.count));
  for (std::size_t k = 0; k < root.size(); ++k) root[k] = static_cast<int>(k);
  const auto join = [&](std::size_t a, std::size_t b) {
    if (parts.of[a] < 0 || parts.of[b] < 0) return;
    const int from = root[at(parts.of[a])], to = root[at(parts.of[b])];
    if (from != to) std::replace(root.begin(), root.end(), std::max(from, to), std::min(from, to));
  };
  for (int step = -1; step <= 1; ++step) {
    for (int j = 0; j < map.ny; ++j) join(map.index(map.nx - 1, j), map.index(0, (j + step + map.ny) % map.ny));
    for (int i = 0; i < map.nx; ++i) join(map.index(i, map.ny - 1), map.index((i + step + map.nx) % map.nx, 0));
  }
  std::vector<int> number(root.size(), -1);
  parts.count = 0;
  for (int& k : parts.of) {
    if (k < 0) continue;
    int& own = number[at(root[at(k)])];
    if (own < 0) own = parts.count++;
    k = own;
  }
  return parts;
}

std::vector<std::vector<std::size_t>> cells_of(const Parts& parts) {
  std::vector<std::vector<std::size_t>> cells(at(parts.count));
  for (std::size_t c = 0; c < parts.of.size(); ++c)
    if (parts.of[c] >= 0) cells[at(parts.of[c])].push_back(c);
  return cells;
}

double x_of(const HeightMap& map, std::size_t c) { return (static_cast<double>(c % at(map.nx)) + 0.5) * map.spacing_m; }
double y_of(const HeightMap& map, std::size_t c) { return (static_cast<double>(c / at(map.nx)) + 0.5) * map.spacing_m; }

/// Middle of a round part; over the ends of a period, seen from its first cell.
Crossing centre(const HeightMap& map, const std::vector<std::size_t>& cells) {
  const double lx = map.nx * map.spacing_m, ly = map.ny * map.spacing_m;
  const double x0 = x_of(map, cells.front()), y0 = y_of(map, cells.front());
  double x = 0.0, y = 0.0;
  for (const std::size_t c : cells) {
    const double dx = x_of(map, c) - x0, dy = y_of(map, c) - y0;
    x += map.periodic ? dx - lx * std::round(dx / lx) : dx;
    y += map.periodic ? dy - ly * std::round(dy / ly) : dy;
  }
  const double n = static_cast<double>(cells.size());
  const double wide = 2.0 * map.spacing_m * std::sqrt(n / std::numbers::pi);  // of a disc as large
  const auto back = [&](double v, double l) { return map.periodic ? v - l * std::floor(v / l) : v; };
  return {back(x0 + x / n, lx), back(y0 + y / n, ly), wide, std::numeric_limits<double>::quiet_NaN()};
}

/// Steepest rise of the distance from a cell to one beside it.
double uphill(const HeightMap& map, const std::vector<double>& distance, std::size_t c) {
  const int i = static_cast<int>(c % at(map.nx)), j = static_cast<int>(c / at(map.nx));
  double most = 0.0;
  for (int q = std::max(0, j - 1); q <= std::min(map.ny - 1, j + 1); ++q)
    for (int p = std::max(0, i - 1); p <= std::min(map.nx - 1, i + 1); ++p)
      if (p != i || q != j) most = std::max(most, (distance[map.index(p, q)] - distance[c]) / std::hypot(p - i, q - j));
  return most;
}

MapStroke stroke_from(const HeightMap& map, double land_m, double height_m, std::vector<std::size_t> cells,
                      const std::vector<double>& distance) {
  constexpr std::size_t kPlaces = 400;
  // The middle of a stroke forks at a square end and runs into its corners, where the distance to the edge falls by
  // 0.7 of the way; where a stroke tapers, by the sine of half its angle.
  constexpr double kFork = 0.5;
  const double s = map.spacing_m, inf = std::numeric_limits<double>::infinity();
  MapStroke stroke{std::move(cells), {inf, inf, -inf, -inf}, height_m, false, {}};
  double most = 0.0;
  for (const std::size_t c : stroke.cells) {
    const double x = x_of(map, c), y = y_of(map, c);
    auto& box = stroke.box_m;
    box = {std::min(box[0], x - 0.5 * s), std::min(box[1], y - 0.5 * s), std::max(box[2], x + 0.5 * s),
           std::max(box[3], y + 0.5 * s)};
    most = std::max(most, distance[c]);
  }
  stroke.round = is_dot(stroke.cells.size(), most);
  if (stroke.round) {
    stroke.middle.push_back(centre(map, stroke.cells));
    return stroke;
  }
  std::vector<std::size_t> middle = middle_of(stroke.cells, distance, map.nx, map.ny);
  const auto forks = [&](std::size_t c) { return uphill(map, distance, c) > kFork; };
  if (std::any_of(middle.begin(), middle.end(), [&](std::size_t c) { return !forks(c); }))
    middle.erase(std::remove_if(middle.begin(), middle.end(), forks), middle.end());
  const std::size_t step = 1 + middle.size() / kPlaces;
  for (std::size_t k = 0; k < middle.size(); k += step) {
    stroke.middle.push_back(crossing_at(map, x_of(map, middle[k]), y_of(map, middle[k]), land_m + 0.5 * height_m));
  }
  return stroke;
}

/// From a place to where the heights cross the level, straight on.
double way_m(const HeightMap& map, double x_m, double y_m, double angle_rad, double level_m) {
  const double step = 0.5 * map.spacing_m, most = map.spacing_m * (map.nx + map.ny);
  const double c = std::cos(angle_rad), s = std::sin(angle_rad);
  const double side = height_at(map, x_m, y_m) > level_m ? 1.0 : -1.0;
  double before = side * (height_at(map, x_m, y_m) - level_m);
  for (double t = step; t < most; t += step) {
    const double now = side * (height_at(map, x_m + t * c, y_m + t * s) - level_m);
    if (now <= 0.0) return t - step * now / (now - before);
    before = now;
  }
  return most;
}

}  // namespace

std::optional<double> land_of(const HeightMap& map) {
  constexpr double kOfBorder = 0.2, kOfAll = 0.1;
  const double low = lowest_m(map), relief = highest_m(map) - low;
  const std::vector<double> border = border_of(map);
  constexpr int kBins = 40;
  double level = 0.0, most = -1.0;
  for (int k = 0; k <= kBins; ++k) {
    const double share = share_on(border, low + relief * k / kBins, relief);
    if (share > most) most = share, level = low + relief * k / kBins;
  }
  std::vector<double> near;  // the level itself, not the middle of a bin
  for (const double z : border)
    if (std::fabs(z - level) <= kLevel * relief) near.push_back(z);
  std::nth_element(near.begin(), near.begin() + static_cast<std::ptrdiff_t>(near.size() / 2), near.end());
  level = near[near.size() / 2];
  const auto is_land = [&](double z) {
    return share_on(border, z, relief) >= kOfBorder && share_on(map.height_m, z, relief) >= kOfAll;
  };
  if (is_land(0.0) && 2.0 * share_on(border, 0.0, relief) >= share_on(border, level, relief)) return 0.0;
  if (is_land(level)) return level;
  return {};
}

MapStrokes strokes_of(const HeightMap& map, double land_m) {
  const double relief = highest_m(map) - lowest_m(map);
  MapStrokes all;
  all.land_m = land_m;
  all.of.assign(map.height_m.size(), -1);
  for (const double sign : {1.0, -1.0}) {
    const auto by = [&](std::size_t c) { return sign * (map.height_m[c] - land_m); };
    std::vector<char> is(map.height_m.size()), half(is.size());
    for (std::size_t c = 0; c < is.size(); ++c) is[c] = by(c) > 2.0 * kLevel * relief;
    const Parts whole = parts_on(map, is);
    std::vector<double> top(at(whole.count), 0.0);
    for (std::size_t c = 0; c < is.size(); ++c)
      if (is[c]) top[at(whole.of[c])] = std::max(top[at(whole.of[c])], by(c));
    for (std::size_t c = 0; c < is.size(); ++c) half[c] = is[c] && by(c) > 0.5 * top[at(whole.of[c])];
    const std::vector<double> distance = distance_in(map, half);
    for (auto& cells : cells_of(parts_on(map, half))) {
      double high = 0.0, most = 0.0;
      for (const std::size_t c : cells) high = std::max(high, by(c)), most = std::max(most, distance[c]);
      if (2.0 * most < kLeastCells) {
        ++all.too_narrow;
        continue;
      }
      for (const std::size_t c : cells) all.of[c] = static_cast<int>(all.strokes.size());
      all.strokes.push_back(stroke_from(map, land_m, sign * high, std::move(cells), distance));
    }
  }
  return all;
}

Surroundings around(const HeightMap& map, const std::vector<char>& marked) {
  std::vector<char> rest(marked.size());
  for (std::size_t c = 0; c < rest.size(); ++c) rest[c] = !marked[c];
  const auto parts = cells_of(parts_on(map, rest));
  Surroundings found{{}, std::vector<char>(rest.size())};
  std::size_t largest = 0;
  for (std::size_t k = 0; k < parts.size(); ++k)
    if (parts[k].size() > parts[largest].size()) largest = k;
  const auto on_border = [&](std::size_t c) {
    const int i = static_cast<int>(c % at(map.nx)), j = static_cast<int>(c / at(map.nx));
    return i == 0 || j == 0 || i == map.nx - 1 || j == map.ny - 1;
  };
  const std::vector<double> distance = distance_to_edge(rest, map.nx, map.ny);
  for (std::size_t k = 0; k < parts.size(); ++k) {
    const auto& cells = parts[k];
    const bool open = map.periodic ? k == largest : std::any_of(cells.begin(), cells.end(), on_border);
    double most = 0.0;
    for (const std::size_t c : cells) most = std::max(most, distance[c]);
    if (open) {
      for (const std::size_t c : cells) found.outside[c] = true;
    } else if (2.0 * most >= kLeastCells) {
      found.counters.push_back(cells);
    }
  }
  return found;
}

std::vector<double> distance_m(const HeightMap& map, const std::vector<char>& marked) {
  std::vector<char> rest(marked.size());
  for (std::size_t c = 0; c < rest.size(); ++c) rest[c] = !marked[c];
  std::vector<double> distance = distance_in(map, rest);
  for (double& d : distance) d *= map.spacing_m;
  return distance;
}

Crossing crossing_at(const HeightMap& map, double x_m, double y_m, double level_m) {
  constexpr int kAngles = 36;
  constexpr double kAlike = 0.9;
  const double pi = std::numbers::pi;
  std::complex<double> second = 0.0;
  double shortest = std::numeric_limits<double>::infinity(), longest = 0.0;
  for (int k = 0; k < kAngles; ++k) {
    const double angle = pi * k / kAngles;
    const double chord = way_m(map, x_m, y_m, angle, level_m) + way_m(map, x_m, y_m, angle + pi, level_m);
    second += std::polar(1.0 / (chord * chord), 2.0 * angle);
    shortest = std::min(shortest, chord), longest = std::max(longest, chord);
  }
  const double across = 0.5 * std::arg(second);
  const double ahead = way_m(map, x_m, y_m, across, level_m), back = way_m(map, x_m, y_m, across + pi, level_m);
  double run = across + 0.5 * pi;  // between 0 and pi
  if (run >= pi * (1.0 - 1e-12)) run = 0.0;
  if (shortest > kAlike * longest) run = std::numeric_limits<double>::quiet_NaN();
  const double shift = 0.5 * (ahead - back);
  return {x_m + shift * std::cos(across), y_m + shift * std::sin(across), ahead + back, run};
}

}  // namespace pellicle::imprint
