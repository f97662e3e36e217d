// What shape does fine detail have, and what does a printer make of it? Filters on a square grid.
#include "mesh/height_map.h"

#include "mesh/check.h"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace pellicle::mesh {
namespace {

/// Index of a cell that may lie outside: round again, or the border's.
int reach(int i, int n, bool periodic) {
  if (!periodic) return std::clamp(i, 0, n - 1);
  const int rest = i % n;
  return rest < 0 ? rest + n : rest;
}

/// Shares of cells -half..half in a box of `width` cells about the middle of cell 0; they sum to 1.
std::vector<double> box_shares(double width) {
  const int half = static_cast<int>(std::ceil(0.5 * (width - 1.0)));
  std::vector<double> shares;
  for (int k = -half; k <= half; ++k) {
    const double low = std::max(k - 0.5, -0.5 * width), high = std::min(k + 0.5, 0.5 * width);
    shares.push_back(std::max(0.0, high - low) / width);
  }
  return shares;
}

/// Mean along one direction: x (1, 0) or y (0, 1).
HeightMap averaged_along(const HeightMap& map, const std::vector<double>& shares, bool along_x) {
  HeightMap out = map;
  const int half = static_cast<int>(shares.size() / 2);
  for (int j = 0; j < map.ny; ++j) {
    for (int i = 0; i < map.nx; ++i) {
      double sum = 0.0;
      for (int k = -half; k <= half; ++k) {
        const int ii = along_x ? reach(i + k, map.nx, map.periodic) : i;
        const int jj = along_x ? j : reach(j + k, map.ny, map.periodic);
        sum += shares[static_cast<std::size_t>(k + half)] * map.at(ii, jj);
      }
      out.at(i, j) = sum;
    }
  }
  return out;
}

/// A place of a structuring element: shift in cells, height.
struct Offset {
  int di, dj;
  double height_m;
};

std::vector<Offset> ball(double radius_m, double spacing_m) {
  std::vector<Offset> offsets;
  const int most = static_cast<int>(std::floor(radius_m / spacing_m));
  for (int dj = -most; dj <= most; ++dj) {
    for (int di = -most; di <= most; ++di) {
      const double rest = radius_m * radius_m - (di * di + dj * dj) * spacing_m * spacing_m;
      if (rest >= 0.0) offsets.push_back({di, dj, std::sqrt(rest) - radius_m});
    }
  }
  return offsets;
}

bool has_lower_neighbour(const HeightMap& map, int i, int j) {
  const double z = map.at(i, j);
  const auto lower = [&](int ii, int jj) {
    return map.at(reach(ii, map.nx, map.periodic), reach(jj, map.ny, map.periodic)) < z;
  };
  return lower(i - 1, j) || lower(i + 1, j) || lower(i, j - 1) || lower(i, j + 1);
}

/// Raises what lies below the cone that falls from cell (i, j).
void raise_below(const HeightMap& map, int i, int j, double slope, double floor_m, HeightMap& out) {
  const double z = map.at(i, j), fall_m = slope * map.spacing_m;  // from cell to cell
  int most = static_cast<int>(std::floor((z - floor_m) / fall_m));
  most = std::min(most, std::max(map.nx, map.ny));
  for (int dj = -most; dj <= most; ++dj) {
    if (!map.periodic && (j + dj < 0 || j + dj >= map.ny)) continue;
    for (int di = -most; di <= most; ++di) {
      if (!map.periodic && (i + di < 0 || i + di >= map.nx)) continue;
      double& here = out.at(reach(i + di, map.nx, map.periodic), reach(j + dj, map.ny, map.periodic));
      here = std::max(here, z - fall_m * std::hypot(di, dj));
    }
  }
}

}  // namespace

HeightMap flat_map(int nx, int ny, double spacing_m, bool periodic) {
  ensure(nx > 0 && ny > 0 && spacing_m > 0.0, "a height map has cells");
  return {nx, ny, spacing_m, std::vector<double>(static_cast<std::size_t>(nx) * static_cast<std::size_t>(ny), 0.0),
          periodic};
}

double lowest_m(const HeightMap& map) { return *std::min_element(map.height_m.begin(), map.height_m.end()); }
double highest_m(const HeightMap& map) { return *std::max_element(map.height_m.begin(), map.height_m.end()); }

double volume_m3(const HeightMap& map) {
  return std::accumulate(map.height_m.begin(), map.height_m.end(), 0.0) * map.spacing_m * map.spacing_m;
}

double height_at(const HeightMap& map, double x_m, double y_m) {
  const double x = x_m / map.spacing_m - 0.5, y = y_m / map.spacing_m - 0.5;
  const double i = std::floor(x), j = std::floor(y);
  const int i0 = static_cast<int>(i), j0 = static_cast<int>(j);
  const auto z = [&](int di, int dj) {
    return map.at(reach(i0 + di, map.nx, map.periodic), reach(j0 + dj, map.ny, map.periodic));
  };
  const double s = x - i, t = y - j;
  return (1.0 - t) * ((1.0 - s) * z(0, 0) + s * z(1, 0)) + t * ((1.0 - s) * z(0, 1) + s * z(1, 1));
}

HeightMap resampled(const HeightMap& map, int nx, int ny, double spacing_m) {
  const HeightMap source = spacing_m > map.spacing_m ? blurred(map, spacing_m) : map;
  HeightMap out = flat_map(nx, ny, spacing_m, map.periodic);
  const double left_m = 0.5 * (map.nx * map.spacing_m - nx * spacing_m);
  const double below_m = 0.5 * (map.ny * map.spacing_m - ny * spacing_m);
  for (int j = 0; j < ny; ++j) {
    for (int i = 0; i < nx; ++i) {
      out.at(i, j) = height_at(source, left_m + (i + 0.5) * spacing_m, below_m + (j + 0.5) * spacing_m);
    }
  }
  return out;
}

HeightMap framed(const HeightMap& map, int nx, int ny) {
  ensure(nx >= map.nx && ny >= map.ny, "the frame holds the map");
  HeightMap out = flat_map(nx, ny, map.spacing_m, map.periodic);
  const int left = (nx - map.nx) / 2, below = (ny - map.ny) / 2;
  for (int j = 0; j < map.ny; ++j) {
    for (int i = 0; i < map.nx; ++i) out.at(left + i, below + j) = map.at(i, j);
  }
  return out;
}

HeightMap blurred(const HeightMap& map, double pixel_m) {
  const double width = pixel_m / map.spacing_m;
  ensure(std::isfinite(width), "a pixel has a size");
  if (width <= 1.0) return map;
  const std::vector<double> shares = box_shares(width);
  return averaged_along(averaged_along(map, shares, true), shares, false);
}

HeightMap in_layers(const HeightMap& map, double layer_m) {
  ensure(layer_m > 0.0, "a layer has a height");
  HeightMap out = map;
  for (double& z : out.height_m) z = layer_m * std::round(z / layer_m);
  return out;
}

HeightMap with_draft(const HeightMap& map, double draft_rad) {
  ensure(draft_rad > 0.0 && draft_rad < 0.5 * std::acos(-1.0), "a draft is between 0 and a right angle");
  const double slope = 1.0 / std::tan(draft_rad), floor_m = lowest_m(map);
  HeightMap out = map;
  for (int j = 0; j < map.ny; ++j) {
    for (int i = 0; i < map.nx; ++i) {
      // A cell without a lower neighbour has one nearer to any place, and as high: its cone raises nothing more.
      if (has_lower_neighbour(map, i, j)) raise_below(map, i, j, slope, floor_m, out);
    }
  }
  return out;
}

HeightMap with_round_edges(const HeightMap& map, double radius_m) {
  ensure(radius_m >= 0.0, "a radius is not below 0");
  const std::vector<Offset> offsets = ball(radius_m, map.spacing_m);
  // Highest place of the ball's top that fits below the surface, then what those balls fill.
  HeightMap top = map, out = map;
  for (int j = 0; j < map.ny; ++j) {
    for (int i = 0; i < map.nx; ++i) {
      for (const Offset& o : offsets) {
        const double z = map.at(reach(i + o.di, map.nx, map.periodic), reach(j + o.dj, map.ny, map.periodic));
        top.at(i, j) = std::min(top.at(i, j), z - o.height_m);
      }
    }
  }
  for (int j = 0; j < map.ny; ++j) {
    for (int i = 0; i < map.nx; ++i) {
      double z = top.at(i, j);
      for (const Offset& o : offsets) {
        z = std::max(z,
                     top.at(reach(i + o.di, map.nx, map.periodic), reach(j + o.dj, map.ny, map.periodic)) + o.height_m);
      }
      out.at(i, j) = z;
    }
  }
  return out;
}

double height_at(const Profile& profile, double x_m) {
  ensure(profile.x_m.size() >= 2 && profile.x_m.size() == profile.z_m.size(), "a profile has two points or more");
  const auto next = std::upper_bound(profile.x_m.begin(), profile.x_m.end(), x_m);
  if (next == profile.x_m.begin()) return profile.z_m.front();
  if (next == profile.x_m.end()) return profile.z_m.back();
  const auto k = static_cast<std::size_t>(next - profile.x_m.begin());
  const double s = (x_m - profile.x_m[k - 1]) / (profile.x_m[k] - profile.x_m[k - 1]);
  return (1.0 - s) * profile.z_m[k - 1] + s * profile.z_m[k];
}

HeightMap row_of(const Profile& strip, double most_spacing_m, bool periodic) {
  ensure(strip.kind == Profile::Kind::kStrip, "only a strip is a row of cells");
  const double length_m = strip.x_m.back() - strip.x_m.front();
  const double cells = std::ceil(length_m / most_spacing_m * (1.0 - 1e-9));  // 1 mm / 0.1 mm is 10, not 11
  ensure(cells <= 1e8, "a row of cells fits in memory");
  const int nx = std::max(1, static_cast<int>(cells));
  HeightMap row = flat_map(nx, 1, length_m / nx, periodic);
  for (int i = 0; i < nx; ++i) row.at(i, 0) = height_at(strip, strip.x_m.front() + (i + 0.5) * row.spacing_m);
  return row;
}

}  // namespace pellicle::mesh
