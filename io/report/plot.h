// How does a curve become a picture? Line plots with bands, axes and a legend, as SVG without scripts.
//
// Curves differ in colour (Okabe and Ito's palette for colour-blind readers, from memory), in dashes and in marks, so
// that a print in black and white can be read.
#pragma once

#include <string>
#include <vector>

namespace pellicle::report {

struct PlotPoint {
  double x, y;
};

/// A line through its points; parts outside the axes are cut off.
struct PlotCurve {
  std::string name;  ///< in the legend; curves of one name in several panels look alike
  std::vector<PlotPoint> points;
};

/// A grey area between two lines, each of two points or more.
struct PlotBand {
  std::string name;
  std::vector<PlotPoint> low, high;
};

struct PlotAxis {
  std::string title;  ///< with its unit: "depth (mm)"
  double low = 0.0, high = 1.0;
  bool logarithmic = false;  ///< then low > 0
};

struct PlotPanel {
  std::string title;
  PlotAxis x, y;
  std::vector<PlotCurve> curves;
  std::vector<PlotBand> bands;
};

struct Figure {
  std::string title;
  std::vector<std::string> notes;  ///< below the panels, broken into lines where they are longer than these are wide
  std::vector<PlotPanel> panels;   ///< two side by side
  std::string frames = "frame";    ///< start of the names inside; another one for each of several on one page
};

/// Numbers for an axis from low to high, at steps of 1, 2 or 5 times a power of ten; about `count` of them. Of a
/// logarithmic axis 1, 2 and 5 of each decade, or 1, 1.5, 2, 3, 5 and 7 if it has hardly more than one, or 1 if there
/// are more than three. low < high.
std::vector<double> axis_ticks(const PlotAxis& axis, int count);

/// The whole document. Same bytes for same numbers. Curves of up to six names can be told apart.
std::string svg(const Figure& figure);

}  // namespace pellicle::report
