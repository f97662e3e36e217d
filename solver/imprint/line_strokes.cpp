// Where along a line of heights are its strokes, and how deep is a sheet over it at each?
#include "solver/imprint/line_strokes.h"

#include <algorithm>
#include <cmath>

namespace pellicle::imprint {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }
std::size_t at(double i) { return static_cast<std::size_t>(i); }

}  // namespace

double low_m(const std::vector<ProfilePoint>& points) {
  double z = points.front().z_m;
  for (const ProfilePoint& p : points) z = std::min(z, p.z_m);
  return z;
}

double top_m(const std::vector<ProfilePoint>& points) {
  double z = points.front().z_m;
  for (const ProfilePoint& p : points) z = std::max(z, p.z_m);
  return z;
}

double feature_m(const Line& line) {
  const double middle = 0.5 * (low_m(line.points) + top_m(line.points)), length = line.points.back().x_m;
  double narrowest = length, first = -1.0, before = -1.0;
  for (std::size_t k = 0; k + 1 < line.points.size(); ++k) {
    const auto &a = line.points[k], &b = line.points[k + 1];
    if ((a.z_m > middle) == (b.z_m > middle)) continue;
    const double x = a.x_m + (middle - a.z_m) / (b.z_m - a.z_m) * (b.x_m - a.x_m);
    if (before >= 0.0) narrowest = std::min(narrowest, x - before);
    if (before < 0.0) first = x;
    before = x;
  }
  if (before < 0.0) return narrowest;
  if (line.periodic) return std::min(narrowest, first > 0.0 && before > first ? first + length - before : narrowest);
  return std::min({narrowest, 2.0 * first, 2.0 * (length - before)});
}

LineRow row_of(const Line& line) {
  constexpr double kCells = 256.0, kMost = 16384.0;  // across the narrowest: the press errs by a third of a cell
  const double length = line.points.back().x_m;
  const double cells = std::clamp(kCells * length / feature_m(line), kCells, kMost);
  LineRow row{0.0, std::vector<double>(64 * at(std::ceil(cells / 64.0)))};
  row.spacing_m = length / row.n();
  for (std::size_t i = 0; i < row.z_m.size(); ++i) row.z_m[i] = height_on(line.points, row.x_m(i));
  return row;
}

std::vector<LineRun> runs_of(const Line& line, const LineRow& row, double land_m) {
  constexpr double kFlaw = 0.05;
  const double flaw = kFlaw * (top_m(line.points) - low_m(line.points));
  const int n = row.n();
  const auto by = [&](int i) { return row.z_m[at((i + n) % n)] - land_m; };
  int start = 0;  // of a period: on land, so that no run lies over its ends
  if (line.periodic)
    while (start < n && std::fabs(by(start)) > flaw) ++start;
  if (start == n) start = 0;
  std::vector<LineRun> runs;
  for (int i = start; i < start + n;) {
    const double sign = by(i) > 0.0 ? 1.0 : -1.0;
    int end = i;
    double top = 0.0;
    while (end < start + n && sign * by(end) > flaw) top = std::max(top, sign * by(end)), ++end;
    for (int k = i; k < end;) {
      int m = k;
      while (m < end && sign * by(m) > 0.5 * top) ++m;
      if (m > k) runs.push_back({k, m, sign * top, 0.0, 0.0});
      k = std::max(m, k + 1);
    }
    i = std::max(end, i + 1);
  }
  const double length = line.points.back().x_m;
  /// Between the middles of two neighbouring cells, one of them in the run.
  const auto edge = [&](int outside, int inside, double height_m) {
    double out = (outside + 0.5) * row.spacing_m, in = (inside + 0.5) * row.spacing_m;
    for (int k = 0; k < 40; ++k) {
      const double middle = 0.5 * (out + in), x = middle - (line.periodic ? length * std::floor(middle / length) : 0.0);
      (std::fabs(height_on(line.points, x) - land_m) > 0.5 * std::fabs(height_m) ? in : out) = middle;
    }
    return 0.5 * (out + in);
  };
  for (LineRun& run : runs) {
    double from = edge(run.first - 1, run.first, run.height_m), to = edge(run.end, run.end - 1, run.height_m);
    if (!line.periodic && run.first == 0) from = -to;  // its mirror image, or all round
    if (!line.periodic && !line.round && run.end == n) to += to - from;
    run.width_m = to - from;
    run.middle_m = 0.5 * (from + to);
  }
  return runs;
}

LineReader::LineReader(const Line& line, const LineRow& row, const std::vector<LineRun>& runs, double land_m,
                       double thickness_m)
    : line_(line), row_(row), runs_(runs), land_m_(land_m), thickness_m_(thickness_m), n_(row.n()) {
  taken_.assign(at(n_), false);
  for (const LineRun& run : runs)
    for (int i = run.first; i < run.end; ++i) taken_[cell(i)] = true;
}

DepthFound LineReader::at_run(const LineRun& run, const std::vector<double>& height_m) const {
  if (run.height_m < 0.0) {
    DepthFound found{0.0, run.width_m, cell(run.first), false};
    for (int i = run.first; i < run.end; ++i)
      if (height_m[cell(i)] < height_m[found.cell]) found.cell = cell(i);
    found.depth_m = land_m_ - height_m[found.cell];
    return found;
  }
  const double reach = reach_m(run.width_m, thickness_m_), top = land_m_ + run.height_m;
  const int cells = std::max(2, static_cast<int>(reach / row_.spacing_m));
  const DepthFound right = beside(run.end, 1, cells, top, height_m);
  if (!line_.round) {
    const DepthFound left = beside(run.first - 1, -1, cells, top, height_m);
    return left.depth_m > right.depth_m ? left : right;
  }
  if (run.first == 0) return right;
  DepthFound inside = beside(run.first - 1, -1, n_, top, height_m);
  inside.in_counter = true;
  int wide = 0;
  while (wide < run.first && !taken_[at(run.first - 1 - wide)]) ++wide;
  inside.span_m = (wide == run.first ? 2.0 : 1.0) * wide * row_.spacing_m;
  return inside.depth_m < right.depth_m ? inside : right;
}

DepthFound LineReader::beside(int from, int step, int cells, double top, const std::vector<double>& height_m) const {
  DepthFound found{0.0, 2.0 * row_.spacing_m, cell(from), false};
  for (int k = 0; k < cells; ++k) {
    int i = from + step * k;
    if (!line_.periodic && (i < 0 || i >= n_)) {
      if (line_.round) break;
      i = i < 0 ? -1 - i : 2 * n_ - 1 - i;  // mirrored
    }
    if (taken_[cell(i)]) break;
    if (!(top - height_m[cell(i)] > found.depth_m)) continue;
    found.depth_m = top - height_m[cell(i)];
    found.cell = cell(i);
    found.span_m = 2.0 * (k + 1) * row_.spacing_m;  // as if this were the middle of a slot
  }
  return found;
}

}  // namespace pellicle::imprint
