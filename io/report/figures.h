// How is a picture shown on the page? With its colour bar, unit, scale and the places of findings, as HTML around a
// PNG.
//
// Words stand beside the PNG, not in it: they stay readable at any width, follow light and dark, and can be read aloud.
#pragma once

#include "io/report/raster.h"
#include "io/report/recording.h"
#include "solver/reliefs.h"

#include <optional>
#include <span>
#include <string>
#include <vector>

namespace pellicle::report {

/// What the colours run over. Values beyond are drawn as the end: then that end is said to be cut.
struct Range {
  double low, high;
  bool cut_low = false, cut_high = false;
  Colours colours = Colours::kAmount;
};

/// From the least to the largest finite value, or, `without_tails`, between the 2nd and 98th of a hundred. Nothing
/// where no value is finite or all are the same.
std::optional<Range> range_of(std::span<const double> values, bool without_tails);

/// Of a difference: as far to one side of zero as to the other, the farthest 2 % left out. Nothing where no value
/// is finite or all are zero.
std::optional<Range> difference_range(std::span<const double> values);

/// A range for a field by its key: pressure from 0, wall thickness whole, others without tails.
/// A range for a field by its key: pressure from 0, wall thickness and shut-in air whole, others without tails.
std::optional<Range> range_of(const Field& field);

/// A number on the picture: a finding's, or several of findings at one place.
struct Mark {
  std::string label;
  mesh::Vec3 place_m;
  bool is_behind = false;  ///< the sheet lies before it
};

/// What is around the picture. Texts are plain; they are escaped here.
struct FigureText {
  std::string id, title, unit, alt, caption;
};

/// The picture in its frame, without the figure around it: `img` and marks, whose words keep clear of each other.
std::string stage_html(const Picture& picture, const Camera& camera, const std::string& alt,
                       std::span<const Mark> marks);
/// Colour bar with five numbers, and beside it the scale.
std::string legend_html(const Range& range, const std::string& unit, const Camera& camera);
/// All of it as a `figure`.
std::string figure_html(const Picture& picture, const Camera& camera, const Range& range, const FigureText& text,
                        std::span<const Mark> marks = {});

/// Where pictures of the sheet are seen from: slantwise from above, over the mould if there is one.
Camera sheet_camera(const Moment& moment, const mesh::TriangleMesh* mould);

/// Straight from above on the flat sheet, y up.
Camera flat_camera(std::span<const mesh::Vec3> points_m);

/// A relief's patch with what the sheet leaves free under it; for a profile, both lines. Empty if there is nothing to
/// draw.
std::string relief_figure(const ReliefResult& relief, std::size_t number);

/// A round length that is easily read on a picture: 1, 2 or 5 times a power of ten, at most a fifth of its width.
double scale_length_m(const Camera& camera);

/// "data:image/png;base64,..."
std::string png_address(const Picture& picture);

}  // namespace pellicle::report
