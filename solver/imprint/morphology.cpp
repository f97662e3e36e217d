// Which parts of a height field are narrower than a given width, and how wide are they?
#include "solver/imprint/morphology.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace pellicle::imprint {
namespace {

std::size_t cell(int nx, int i, int j) {
  return static_cast<std::size_t>(j) * static_cast<std::size_t>(nx) + static_cast<std::size_t>(i);
}

/// out[k] = least of in[k - reach .. k + reach], clipped: running minima from both ends of pieces of 2 reach + 1.
void running_least(const std::vector<double>& in, int reach, std::vector<double>& out) {
  const int n = static_cast<int>(in.size()), window = 2 * reach + 1, padded = n + 2 * reach;
  const auto value = [&](int k) {
    return k < reach || k >= n + reach ? std::numeric_limits<double>::infinity()
                                       : in[static_cast<std::size_t>(k - reach)];
  };
  std::vector<double> before(static_cast<std::size_t>(padded)), after(before);
  for (int k = 0; k < padded; ++k)
    before[static_cast<std::size_t>(k)] =
        k % window == 0 ? value(k) : std::min(value(k), before[static_cast<std::size_t>(k - 1)]);
  for (int k = padded - 1; k >= 0; --k)
    after[static_cast<std::size_t>(k)] = (k + 1) % window == 0 || k == padded - 1
                                             ? value(k)
                                             : std::min(value(k), after[static_cast<std::size_t>(k + 1)]);
  out.resize(in.size());
  for (int k = 0; k < n; ++k)
    out[static_cast<std::size_t>(k)] =
        std::min(after[static_cast<std::size_t>(k)], before[static_cast<std::size_t>(k + 2 * reach)]);
}

/// Along all lines of direction (di, dj) through the field.
void least_along(Field& field, int di, int dj, int reach) {
  if (reach <= 0) return;
  std::vector<std::pair<int, int>> starts;  // cells without one before them
  for (int j = 0; j < field.ny; ++j)
    for (int i = 0; i < field.nx; ++i)
      if (i - di < 0 || i - di >= field.nx || j - dj < 0 || j - dj >= field.ny) starts.emplace_back(i, j);
#pragma omp parallel
  {
    std::vector<double> line, least;
#pragma omp for schedule(dynamic, 16)
    for (std::size_t s = 0; s < starts.size(); ++s) {
      line.clear();
      for (int i = starts[s].first, j = starts[s].second; i >= 0 && i < field.nx && j >= 0 && j < field.ny;
           i += di, j += dj)
        line.push_back(field(i, j));
      running_least(line, reach, least);
      int i = starts[s].first, j = starts[s].second;
      for (const double z : least) field.at[cell(field.nx, i, j)] = z, i += di, j += dj;
    }
  }
}

Field negative(Field field) {
  for (double& z : field.at) z = -z;
  return field;
}

/// One line of squared distances: lower envelope of parabolas.
void envelope(const std::vector<double>& f, std::vector<double>& out, std::vector<int>& at, std::vector<double>& from) {
  const int n = static_cast<int>(f.size());
  const auto u = [](int k) { return static_cast<std::size_t>(k); };
  at.assign(f.size(), 0), from.assign(f.size() + 1, 0.0), out.resize(f.size());
  int top = 0;
  from[0] = -std::numeric_limits<double>::infinity(), from[1] = std::numeric_limits<double>::infinity();
  for (int q = 1; q < n; ++q) {
    double s = 0.0;
    for (;; --top) {
      const int p = at[u(top)];
      s = ((f[u(q)] + 1.0 * q * q) - (f[u(p)] + 1.0 * p * p)) / (2.0 * (q - p));
      if (s > from[u(top)]) break;
    }
    at[u(++top)] = q, from[u(top)] = s, from[u(top + 1)] = std::numeric_limits<double>::infinity();
  }
  for (int q = 0, k = 0; q < n; ++q) {
    while (from[u(k + 1)] < q) ++k;
    out[u(q)] = 1.0 * (q - at[u(k)]) * (q - at[u(k)]) + f[u(at[u(k)])];
  }
}

}  // namespace

Field erode(const Field& field, int radius) {
  // An octagon is the sum of two straight lines and two at 45 degrees; sides alike in length for these shares.
  const int slant = static_cast<int>(std::lround(radius / (2.0 + std::sqrt(2.0)))), straight = radius - 2 * slant;
  Field out = field;
  least_along(out, 1, 0, straight);
  least_along(out, 0, 1, straight);
  least_along(out, 1, 1, slant);
  least_along(out, 1, -1, slant);
  return out;
}

Field dilate(const Field& field, int radius) { return negative(erode(negative(field), radius)); }
Field opened(const Field& field, int radius) { return dilate(erode(field, radius), radius); }
Field closed(const Field& field, int radius) { return erode(dilate(field, radius), radius); }

Parts parts_of(const std::vector<char>& marked, int nx, int ny) {
  Parts parts{0, std::vector<int>(marked.size(), -1)};
  std::vector<std::pair<int, int>> open;
  for (int j = 0; j < ny; ++j)
    for (int i = 0; i < nx; ++i) {
      if (!marked[cell(nx, i, j)] || parts.of[cell(nx, i, j)] >= 0) continue;
      parts.of[cell(nx, i, j)] = parts.count;
      open.assign(1, {i, j});
      while (!open.empty()) {
        const auto [a, b] = open.back();
        open.pop_back();
        for (int q = std::max(0, b - 1); q <= std::min(ny - 1, b + 1); ++q)
          for (int p = std::max(0, a - 1); p <= std::min(nx - 1, a + 1); ++p)
            if (marked[cell(nx, p, q)] && parts.of[cell(nx, p, q)] < 0)
              parts.of[cell(nx, p, q)] = parts.count, open.emplace_back(p, q);
      }
      ++parts.count;
    }
  return parts;
}

std::vector<double> distance_to_edge(const std::vector<char>& marked, int nx, int ny) {
  const double far = 1e12;  // more than any squared distance in cells, and exact when small squares are added
  const int wide = nx + 2, high = ny + 2;
  std::vector<double> field(static_cast<std::size_t>(wide) * static_cast<std::size_t>(high), 0.0);
  for (int j = 0; j < ny; ++j)
    for (int i = 0; i < nx; ++i)
      if (marked[cell(nx, i, j)]) field[cell(wide, i + 1, j + 1)] = far;
  std::vector<double> line, out, from;
  std::vector<int> at;
  for (int i = 0; i < wide; ++i) {
    line.clear();
    for (int j = 0; j < high; ++j) line.push_back(field[cell(wide, i, j)]);
    envelope(line, out, at, from);
    for (int j = 0; j < high; ++j) field[cell(wide, i, j)] = out[static_cast<std::size_t>(j)];
  }
  std::vector<double> distance(marked.size());
  for (int j = 1; j <= ny; ++j) {
    line.assign(field.begin() + static_cast<std::ptrdiff_t>(cell(wide, 0, j)),
                field.begin() + static_cast<std::ptrdiff_t>(cell(wide, 0, j + 1)));
    envelope(line, out, at, from);
    for (int i = 0; i < nx; ++i) distance[cell(nx, i, j - 1)] = std::sqrt(out[static_cast<std::size_t>(i + 1)]);
  }
  return distance;
}

bool is_dot(std::size_t cells, double most) {
  constexpr double kRound = 1.4;  // times the disc in it
  return static_cast<double>(cells) < kRound * std::numbers::pi * most * most;
}

std::vector<std::size_t> middle_of(const std::vector<std::size_t>& part, const std::vector<double>& distance, int nx,
                                   int ny) {
  std::size_t farthest = part.front();
  for (const std::size_t c : part)
    if (distance[c] > distance[farthest]) farthest = c;
  const double most = distance[farthest];
  if (is_dot(part.size(), most)) return {farthest};
  const auto d = [&](int i, int j) { return i < 0 || i >= nx || j < 0 || j >= ny ? 0.0 : distance[cell(nx, i, j)]; };
  const auto is_ridge = [](double before, double own, double after) {
    return own >= before && own >= after && own > std::min(before, after) + 0.5;
  };
  std::vector<std::size_t> middle;
  for (const std::size_t c : part) {
    const double own = distance[c];
    if (own < 0.5 * most) continue;
    const int i = static_cast<int>(c % static_cast<std::size_t>(nx)),
              j = static_cast<int>(c / static_cast<std::size_t>(nx));
    if (is_ridge(d(i - 1, j), own, d(i + 1, j)) || is_ridge(d(i, j - 1), own, d(i, j + 1))) middle.push_back(c);
  }
  if (middle.empty()) middle.push_back(farthest);
  return middle;
}

}  // namespace pellicle::imprint
