// Where along a line of heights are its strokes, and how deep is a sheet over it at each?
//
// docs/theory/capture.md.
#pragma once

#include "solver/imprint/capture_parts.h"

#include <cstddef>
#include <vector>

namespace pellicle::imprint {

double low_m(const std::vector<ProfilePoint>& points);
double top_m(const std::vector<ProfilePoint>& points);

/// Narrowest distance between places where the line crosses the middle of its heights, over the seam of a period too;
/// an end that is mirrored counts twice.
double feature_m(const Line& line);

/// The line in cells, from its beginning to its end.
struct LineRow {
  double spacing_m;
  std::vector<double> z_m;
  double x_m(std::size_t i) const { return (static_cast<double>(i) + 0.5) * spacing_m; }
  int n() const { return static_cast<int>(z_m.size()); }
};
LineRow row_of(const Line& line);

/// A stroke of the line: cells from first to before `end`, which may lie beyond a period.
struct LineRun {
  int first, end;
  double height_m;  ///< < 0: sunk
  double width_m, middle_m;
};
std::vector<LineRun> runs_of(const Line& line, const LineRow& row, double land_m);

/// How deep the sheet is at a run, in heights of the underside below 0 on the row.
struct DepthFound {
  double depth_m = 0.0, span_m = 0.0;
  std::size_t cell = 0;
  bool in_counter = false;
};

class LineReader {
 public:
  /// land_m is below the highest mould point by that much, as heights are. All must outlive it.
  LineReader(const Line& line, const LineRow& row, const std::vector<LineRun>& runs, double land_m, double thickness_m);

  /// height_m: of the underside on the row.
  DepthFound at_run(const LineRun& run, const std::vector<double>& height_m) const;

 private:
  std::size_t cell(int i) const { return static_cast<std::size_t>(((i % n_) + n_) % n_); }
  /// Deepest on the land from here on.
  DepthFound beside(int from, int step, int cells, double top, const std::vector<double>& height_m) const;

  const Line& line_;
  const LineRow& row_;
  const std::vector<LineRun>& runs_;
  double land_m_, thickness_m_;
  int n_;
  std::vector<char> taken_;
};

}  // namespace pellicle::imprint
