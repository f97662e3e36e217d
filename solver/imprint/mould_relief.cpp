// Where does the mould carry text or texture that the sheet's elements do not resolve, and how wide and high is it?
#include "solver/imprint/mould_relief.h"

#include "mesh/tops.h"
#include "solver/imprint/morphology.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace pellicle::imprint {
namespace {

using mesh::Vec3;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// The mould from above; cells over nothing lie as low as the lowest one that is over something.
struct Seen {
  Field height_m;
  double spacing_m, x0_m, y0_m;  ///< middle of the first cell
};

Seen look_down(const mesh::Nearest& mould, double spacing_m) {
  Vec3 low = Vec3::Constant(std::numeric_limits<double>::infinity()), high = -low;
  for (const Vec3& p : mould.mesh().points_m) low = low.cwiseMin(p), high = high.cwiseMax(p);
  Seen seen{};
  seen.spacing_m = spacing_m;
  seen.x0_m = low.x() + 0.5 * spacing_m, seen.y0_m = low.y() + 0.5 * spacing_m;
  seen.height_m.nx = std::max(1, static_cast<int>(std::floor((high.x() - low.x()) / spacing_m)));
  seen.height_m.ny = std::max(1, static_cast<int>(std::floor((high.y() - low.y()) / spacing_m)));
  const int nx = seen.height_m.nx, ny = seen.height_m.ny;
  seen.height_m.at = mesh::tops_m(mould.mesh(), {{seen.x0_m, seen.y0_m}, {1.0, 0.0}, spacing_m, nx, ny});
  for (double& z : seen.height_m.at)
    if (std::isnan(z)) z = low.z();
  return seen;
}

/// Widths of a part, rising, along its middle.
std::vector<double> widths_m(const std::vector<std::size_t>& cells, const std::vector<double>& distance, int nx, int ny,
                             double spacing_m) {
  std::vector<double> widths;
  for (const std::size_t c : middle_of(cells, distance, nx, ny))
    widths.push_back((2.0 * distance[c] - 1.0) * spacing_m);  // from edge to edge of the cells
  std::sort(widths.begin(), widths.end());
  return widths;
}

/// A height field less its smooth shape, or that less the field: what is raised, or sunk.
struct Over {
  Field smooth_m;
  Field by_m;                ///< >= 0
  double sign;               ///< -1: sunk
  std::vector<float> slope;  ///< of the smooth shape
  std::vector<char> is;      ///< more than a flaw. On a steep wall a cell's width is a height too.
};

Over over(const Field& height_m, Field smooth_m, double sign, const ReliefSearch& search) {
  constexpr double kCells = 1.5;
  const std::size_t n = height_m.at.size();
  Over o{std::move(smooth_m), height_m, sign, std::vector<float>(n), std::vector<char>(n)};
  const int nx = height_m.nx, ny = height_m.ny;
  for (int j = 0; j < ny; ++j)
    for (int i = 0; i < nx; ++i) {
      const std::size_t c = at(j) * at(nx) + at(i);
      o.by_m.at[c] = sign * (height_m.at[c] - o.smooth_m.at[c]);
      const double rise = std::hypot(o.smooth_m(std::min(i + 1, nx - 1), j) - o.smooth_m(std::max(i - 1, 0), j),
                                     o.smooth_m(i, std::min(j + 1, ny - 1)) - o.smooth_m(i, std::max(j - 1, 0)));
      o.slope[c] = static_cast<float>(rise / (2.0 * search.spacing_m));
      o.is[c] = o.by_m.at[c] > search.lowest_m + kCells * 0.5 * rise;
    }
  return o;
}

/// The space inside or between raised strokes looks sunk from their tops, an island in sunk ones raised from their
/// floor: the land around, where neither is, lies on the other side then.
bool is_seen_from_land(const Seen& seen, const Over& own, const Over& other, const std::vector<std::size_t>& cells,
                       double reach_m) {
  const int nx = seen.height_m.nx, ny = seen.height_m.ny, reach = static_cast<int>(reach_m / seen.spacing_m);
  int low_i = nx, low_j = ny, high_i = -1, high_j = -1;
  double smooth_m = 0.0, top_m = 0.0;
  for (const std::size_t c : cells) {
    const int i = static_cast<int>(c % at(nx)), j = static_cast<int>(c / at(nx));
    low_i = std::min(low_i, i), high_i = std::max(high_i, i), low_j = std::min(low_j, j), high_j = std::max(high_j, j);
    smooth_m += own.smooth_m.at[c], top_m = std::max(top_m, own.by_m.at[c]);
  }
  smooth_m /= static_cast<double>(cells.size());
  double land_m = 0.0;
  int count = 0;
  for (int j = std::max(0, low_j - reach); j <= std::min(ny - 1, high_j + reach); ++j)
    for (int i = std::max(0, low_i - reach); i <= std::min(nx - 1, high_i + reach); ++i) {
      const std::size_t c = at(j) * at(nx) + at(i);
      if (!own.is[c] && !other.is[c]) land_m += seen.height_m.at[c], ++count;
    }
  return count == 0 || own.sign * (land_m / count - smooth_m) < 0.5 * top_m;
}

/// The opening cuts the corners, seen from above, off what is wider than a stroke: such a piece goes on level where it
/// was cut, along two fifths of its rim; a stroke falls off all round but where it meets another.
bool is_cut_off(const Seen& seen, const Over& own, const std::vector<std::size_t>& cells,
                const std::vector<char>& half) {
  constexpr double kMostLevel = 0.25;
  const int nx = seen.height_m.nx, ny = seen.height_m.ny;
  double top_m = 0.0, smooth_m = 0.0;
  for (const std::size_t c : cells) top_m = std::max(top_m, own.by_m.at[c]), smooth_m += own.smooth_m.at[c];
  smooth_m /= static_cast<double>(cells.size());
  int rim = 0, level = 0;
  for (const std::size_t c : cells) {
    const int i = static_cast<int>(c % at(nx)), j = static_cast<int>(c / at(nx));
    for (const auto& [p, q] : {std::pair{i - 1, j}, {i + 1, j}, {i, j - 1}, {i, j + 1}}) {
      if (p < 0 || p >= nx || q < 0 || q >= ny || half[at(q) * at(nx) + at(p)]) continue;
      ++rim;
      // A little farther on, past the rounding of an edge.
      const int far_i = std::clamp(i + 3 * (p - i), 0, nx - 1), far_j = std::clamp(j + 3 * (q - j), 0, ny - 1);
      if (own.sign * (seen.height_m(far_i, far_j) - smooth_m) > 0.75 * top_m) ++level;
    }
  }
  return level > kMostLevel * rim;
}

Stroke stroke_of(const Seen& seen, const Over& own, const std::vector<std::size_t>& cells,
                 const std::vector<double>& widths_m) {
  const double inf = std::numeric_limits<double>::infinity(), s = seen.spacing_m;
  const auto x = [&](std::size_t c) { return seen.x0_m + s * static_cast<double>(c % at(seen.height_m.nx)); };
  const auto y = [&](std::size_t c) { return seen.y0_m + s * static_cast<double>(c / at(seen.height_m.nx)); };
  Stroke stroke{};
  stroke.box_m = {inf, inf, -inf, -inf};
  std::size_t top = cells.front();
  for (const std::size_t c : cells) {
    stroke.box_m = {std::min(stroke.box_m[0], x(c) - 0.5 * s), std::min(stroke.box_m[1], y(c) - 0.5 * s),
                    std::max(stroke.box_m[2], x(c) + 0.5 * s), std::max(stroke.box_m[3], y(c) + 0.5 * s)};
    if (own.by_m.at[c] > own.by_m.at[top]) top = c;
  }
  stroke.place_m = {x(top), y(top), seen.height_m.at[top]};
  stroke.height_m = own.sign * own.by_m.at[top];
  stroke.width_m = widths_m[widths_m.size() / 2];
  stroke.narrowest_m = widths_m[widths_m.size() / 10];
  stroke.area_m2 = static_cast<double>(cells.size()) * s * s;
  return stroke;
}

void add_strokes(const Seen& seen, const Over& own, const Over& other, const ReliefSearch& search,
                 std::vector<Stroke>& strokes) {
  constexpr double kLeastCells = 3.0;  // narrower is noise of the grid
  constexpr double kSteepest = 1.0;    // 45 degrees
  const int nx = seen.height_m.nx, ny = seen.height_m.ny;
  const Parts whole = parts_of(own.is, nx, ny);
  std::vector<double> top_m(at(whole.count), 0.0);
  for (std::size_t c = 0; c < own.is.size(); ++c)
    if (own.is[c]) top_m[at(whole.of[c])] = std::max(top_m[at(whole.of[c])], own.by_m.at[c]);
  // At half its own height each stroke is as wide as it is said to be.
  std::vector<char> half(own.is.size());
  for (std::size_t c = 0; c < half.size(); ++c)
    half[c] = own.is[c] && top_m[at(whole.of[c])] <= search.highest_m && own.by_m.at[c] > 0.5 * top_m[at(whole.of[c])];
  const Parts parts = parts_of(half, nx, ny);
  const std::vector<double> distance = distance_to_edge(half, nx, ny);
  std::vector<std::vector<std::size_t>> cells(at(parts.count));
  for (std::size_t c = 0; c < half.size(); ++c)
    if (half[c]) cells[at(parts.of[c])].push_back(c);
  for (const std::vector<std::size_t>& part : cells) {
    const std::vector<double> widths = widths_m(part, distance, nx, ny, seen.spacing_m);
    if (widths[widths.size() / 2] < kLeastCells * seen.spacing_m) continue;
    double slope = 0.0;
    for (const std::size_t c : part) slope += own.slope[c];
    // On a steep wall, and at its corners, what looks like relief from above is the wall.
    if (slope > kSteepest * static_cast<double>(part.size())) continue;
    if (!is_cut_off(seen, own, part, half) && is_seen_from_land(seen, own, other, part, search.widest_m))
      strokes.push_back(stroke_of(seen, own, part, widths));
  }
}

/// Distance between two boxes.
double between_m(const std::array<double, 4>& a, const std::array<double, 4>& b) {
  const double dx = std::max({0.0, a[0] - b[2], b[0] - a[2]}), dy = std::max({0.0, a[1] - b[3], b[1] - a[3]});
  return std::hypot(dx, dy);
}

std::vector<Patch> grouped(const std::vector<Stroke>& strokes, double apart_m) {
  std::vector<int> group(strokes.size());
  for (std::size_t i = 0; i < strokes.size(); ++i) group[i] = static_cast<int>(i);
  for (std::size_t i = 0; i < strokes.size(); ++i)
    for (std::size_t j = 0; j < i; ++j)
      if (group[i] != group[j] && between_m(strokes[i].box_m, strokes[j].box_m) < apart_m) {
        const int from = std::max(group[i], group[j]), to = std::min(group[i], group[j]);
        std::replace(group.begin(), group.end(), from, to);
      }
  std::vector<Patch> patches;
  for (std::size_t g = 0; g < strokes.size(); ++g) {
    Patch patch;
    for (std::size_t i = 0; i < strokes.size(); ++i)
      if (group[i] == static_cast<int>(g)) patch.strokes.push_back(strokes[i]);
    if (patch.strokes.empty()) continue;
    patch.box_m = patch.strokes.front().box_m;
    for (const Stroke& s : patch.strokes)
      patch.box_m = {std::min(patch.box_m[0], s.box_m[0]), std::min(patch.box_m[1], s.box_m[1]),
                     std::max(patch.box_m[2], s.box_m[2]), std::max(patch.box_m[3], s.box_m[3])};
    std::stable_sort(patch.strokes.begin(), patch.strokes.end(),
                     [](const Stroke& a, const Stroke& b) { return a.box_m[0] < b.box_m[0]; });
    patches.push_back(std::move(patch));
  }
  const auto area = [](const Patch& p) {
    double sum = 0.0;
    for (const Stroke& s : p.strokes) sum += s.area_m2;
    return sum;
  };
  std::stable_sort(patches.begin(), patches.end(), [&](const Patch& a, const Patch& b) { return area(a) > area(b); });
  return patches;
}

}  // namespace

ReliefSearch relief_search(double thickness_m, double element_m, double area_m2, double cells) {
  const double widest = std::max(3.0 * thickness_m, 2.0 * element_m);
  return {.widest_m = widest,
          .highest_m = 2.0 * thickness_m,
          .lowest_m = thickness_m / 30.0,
          .spacing_m = std::max(thickness_m / 20.0, std::sqrt(area_m2 / cells)),
          .apart_m = 0.75 * widest};
}

std::vector<Patch> find_relief(const mesh::Nearest& mould, const ReliefSearch& search) {
  const Seen seen = look_down(mould, search.spacing_m);
  const int radius = static_cast<int>(std::ceil(0.5 * search.widest_m / search.spacing_m));
  const Over raised = over(seen.height_m, opened(seen.height_m, radius), 1.0, search);
  const Over sunk = over(seen.height_m, closed(seen.height_m, radius), -1.0, search);
  std::vector<Stroke> strokes;
  add_strokes(seen, raised, sunk, search, strokes);
  add_strokes(seen, sunk, raised, search, strokes);
  return grouped(strokes, search.apart_m);
}

}  // namespace pellicle::imprint
