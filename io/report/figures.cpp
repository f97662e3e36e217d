// How is a picture shown on the page? With its colour bar, unit, scale and the places of findings, as HTML around a
// PNG.
#include "io/report/figures.h"

#include "io/report/base64.h"
#include "io/report/html.h"
#include "io/report/labels.h"
#include "io/report/plot.h"
#include "io/report/png.h"
#include "mesh/check.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <utility>

namespace pellicle::report {
namespace {

using mesh::Vec3;

constexpr int kWidth_px = 840;
constexpr double kAzimuth = -110.0 * std::numbers::pi / 180.0, kHeight = 42.0 * std::numbers::pi / 180.0;
constexpr double kAzimuthOfRelief = -90.0 * std::numbers::pi / 180.0, kHeightOfRelief = 60.0 * std::numbers::pi / 180.0;
constexpr double kTail = 0.02;
constexpr double kNarrow_px = 270.0, kWide_px = 640.0;  ///< of a picture on the smallest page, and from 40 rem on
constexpr double kFlipped = 75.0;  ///< percent of the width from where a mark's words stand to its left
constexpr double kAround = 0.15;   ///< of the mould's size, shown beside it
constexpr int kMostColumns = 480;  ///< of a relief's grid that are drawn
constexpr double kLeastSide = 0.42, kMostSide = 0.72;  ///< height of a picture over its width

std::size_t index(int i) { return static_cast<std::size_t>(i); }

/// A view of the box in a picture as flat as the box looks.
Camera fitting_camera(const Vec3& low_m, const Vec3& high_m, double azimuth_rad, double height_rad) {
  const Camera tall = camera_on(low_m, high_m, azimuth_rad, height_rad, kWidth_px, 10 * kWidth_px);
  const double along_px = tall.px_per_m * (high_m - low_m).dot(tall.up.cwiseAbs());
  const int height_px =
      static_cast<int>(std::lround(std::clamp(1.1 * along_px, kLeastSide * kWidth_px, kMostSide * kWidth_px)));
  return camera_on(low_m, high_m, azimuth_rad, height_rad, kWidth_px, height_px);
}

std::pair<Vec3, Vec3> box_of(std::span<const Vec3> points_m) {
  Vec3 low = Vec3::Constant(std::numeric_limits<double>::infinity()), high = -low;
  for (const Vec3& p : points_m) {
    low = low.cwiseMin(p);
    high = high.cwiseMax(p);
  }
  return {low, high};
}

/// The cells of a relief that are drawn: every one, or every second, third, ...
struct Grid {
  std::vector<Vec3> points_m;
  std::vector<mesh::Triangle> triangles;
  std::vector<double> gap_mm;
};

Grid grid_of(const imprint::ReliefAnswer& a) {
  const int step = (std::max(a.nx, a.ny) + kMostColumns - 1) / kMostColumns;
  Grid grid;
  int columns = 0, rows = 0;
  for (int j = 0; j < a.ny; j += step, ++rows) {
    columns = 0;
    for (int i = 0; i < a.nx; i += step, ++columns) {
      const std::size_t cell = index(j) * index(a.nx) + index(i);
      grid.points_m.emplace_back(a.x_m[index(i)], a.y_m[index(j)], a.sheet_height_m[cell]);
      grid.gap_mm.push_back(1e3 * a.gap_m[cell]);
    }
  }
  for (int j = 0; j + 1 < rows; ++j)
    for (int i = 0; i + 1 < columns; ++i) {
      const int p = j * columns + i;
      grid.triangles.push_back({p, p + 1, p + columns + 1});
      grid.triangles.push_back({p, p + columns + 1, p + columns});
    }
  return grid;
}

std::string answer_text(const ReliefResult& relief) {
  const imprint::ReliefAnswer& a = relief.answer;
  std::string out = fmt::format("At its deepest the sheet goes {} of {}.", number_text(1e3 * a.depth.answer_m, "mm"),
                                number_text(1e3 * a.own_depth_m, "mm"));
  const auto worst = std::min_element(a.strokes.begin(), a.strokes.end(),
                                      [](const auto& one, const auto& other) { return one.share < other.share; });
  if (worst != a.strokes.end())
    out += fmt::format(" The worst stroke, {}, forms to {} of its height.", worst->name, number_text(worst->share));
  return out;
}

std::string profile_figure(const ReliefResult& relief, std::size_t number) {
  const imprint::ReliefAnswer& a = relief.answer;
  Figure figure;
  PlotPanel panel;
  PlotCurve mould{"mould", {}}, sheet{"sheet", {}};
  for (int i = 0; i < a.nx; ++i) {
    mould.points.push_back({1e3 * a.x_m[index(i)], 1e3 * a.mould_height_m[index(i)]});
    sheet.points.push_back({1e3 * a.x_m[index(i)], 1e3 * a.sheet_height_m[index(i)]});
  }
  const double deep_mm = 1e3 * std::max(a.own_depth_m, std::numeric_limits<double>::min());
  panel.x = {"along the profile (mm)", 1e3 * a.x_m.front(), 1e3 * a.x_m.back(), false};
  panel.y = {"height (mm)", -1.08 * deep_mm, 0.08 * deep_mm, false};
  panel.curves = {std::move(mould), std::move(sheet)};
  figure.panels = {std::move(panel)};
  figure.title = fmt::format("Relief {}", a.name);
  figure.frames = fmt::format("relief{}-", number);
  return fmt::format("<figure class=\"plot\">{}<figcaption>{}</figcaption></figure>\n", svg(figure),
                     escaped(answer_text(relief)));
}

/// A mark and where it is seen, percent of width and height.
struct Seen {
  const Mark* mark;
  double x, y;
};

/// How far the words go down on a picture of this width. Their size is that of page.css at its usual letters, rounded
/// up: 0.82 rem, digits of at most 0.64 em.
std::vector<double> downs_px(const std::vector<Seen>& seen, double width_px, double flatness) {
  constexpr double kHigh_px = 21.0, kLetter_px = 8.5, kAround_px = 10.0;
  std::vector<Label> labels;
  for (const Seen& s : seen)
    labels.push_back({0.01 * s.x * width_px, 0.01 * s.y * width_px * flatness,
                      kAround_px + kLetter_px * static_cast<double>(s.mark->label.size()), kHigh_px, s.x > kFlipped});
  return labels_apart(labels, width_px * flatness);
}

}  // namespace

std::optional<Range> range_of(std::span<const double> values, bool without_tails) {
  std::vector<double> finite;
  std::copy_if(values.begin(), values.end(), std::back_inserter(finite), [](double v) { return std::isfinite(v); });
  if (finite.empty()) return std::nullopt;
  std::sort(finite.begin(), finite.end());
  const auto at = [&](double share) {
    return finite[static_cast<std::size_t>(std::lround(share * static_cast<double>(finite.size() - 1)))];
  };
  Range range{finite.front(), finite.back()};
  if (without_tails && at(kTail) < at(1.0 - kTail)) {
    range = {at(kTail), at(1.0 - kTail), at(kTail) > finite.front(), at(1.0 - kTail) < finite.back()};
  }
  if (!(range.low < range.high)) return std::nullopt;
  return range;
}

std::optional<Range> difference_range(std::span<const double> values) {
  std::vector<double> sizes;
  for (const double value : values)
    if (std::isfinite(value) && value != 0.0) sizes.push_back(std::abs(value));
  if (sizes.empty()) return std::nullopt;
  std::sort(sizes.begin(), sizes.end());
  const double most =
      sizes[static_cast<std::size_t>(std::lround((1.0 - kTail) * static_cast<double>(sizes.size() - 1)))];
  const auto beyond = [&](double sign) {
    return std::any_of(values.begin(), values.end(), [&](double v) { return sign * v > most; });
  };
  return Range{-most, most, beyond(-1.0), beyond(1.0), Colours::kDifference};
}

std::optional<Range> range_of(const Field& field) {
  // Pockets may be small: their pressure is shown whole, as the wall is.
  const bool is_whole = field.key == "thickness" || field.key == "air_pressure";
  std::optional<Range> range = range_of(field.values, !is_whole);
  if (range && (field.key == "contact_pressure" || field.key == "gap") && range->high > 0.0)
    range = Range{0.0, range->high, range->cut_low && range->low < 0.0, range->cut_high};
  return range;
}

double scale_length_m(const Camera& camera) {
  const double most_m = 0.2 * camera.width_px / camera.px_per_m;
  const double power = std::pow(10.0, std::floor(std::log10(most_m)));
  return power * (most_m >= 5.0 * power ? 5.0 : most_m >= 2.0 * power ? 2.0 : 1.0);
}

std::string png_address(const Picture& picture) { return "data:image/png;base64," + base64(png(picture)); }

std::string stage_html(const Picture& picture, const Camera& camera, const std::string& alt,
                       std::span<const Mark> marks) {
  std::string out = fmt::format(
      "<div class=\"stage\" style=\"aspect-ratio:{0}/{1}\">\n<img class=\"still\" width=\"{0}\" height=\"{1}\" "
      "alt=\"{2}\" src=\"{3}\" />\n",
      picture.width, picture.height, escaped(alt), png_address(picture));
  std::vector<Seen> seen;
  for (const Mark& mark : marks) {
    const Vec3 p = camera.seen(mark.place_m);
    const Seen one{&mark, 100.0 * p.x() / picture.width, 100.0 * p.y() / picture.height};
    if (one.x >= 0.0 && one.x <= 100.0 && one.y >= 0.0 && one.y <= 100.0) seen.push_back(one);
  }
  const double flatness = static_cast<double>(picture.height) / picture.width;
  const std::vector<double> narrow_px = downs_px(seen, kNarrow_px, flatness),
                            wide_px = downs_px(seen, kWide_px, flatness);
  for (std::size_t k = 0; k < seen.size(); ++k) {
    const Mark& mark = *seen[k].mark;
    const bool is_led = narrow_px[k] != 0.0 || wide_px[k] != 0.0;
    out += fmt::format(
        "<span class=\"mark{}{}{}\" aria-hidden=\"true\" data-place=\"{:.6g} {:.6g} {:.6g}\" "
        "style=\"left:{:.2f}%;top:{:.2f}%{}\"><i></i><b>{}</b></span>\n",
        mark.is_behind ? " behind" : "", seen[k].x > kFlipped ? " flip" : "", is_led ? " led" : "",
        1e3 * mark.place_m.x(), 1e3 * mark.place_m.y(), 1e3 * mark.place_m.z(), seen[k].x, seen[k].y,
        is_led ? fmt::format(";--down:{:.1f}px;--down-wide:{:.1f}px", narrow_px[k], wide_px[k]) : "",
        escaped(mark.label));
  }
  return out + "</div>\n";
}

std::string legend_html(const Range& range, const std::string& unit, const Camera& camera) {
  const std::string bar = png_address(colour_bar(256, 1, range.colours));
  std::string out = fmt::format(
      "<div class=\"below\"><div class=\"legend\">\n<img class=\"bar\" alt=\"\" src=\"{}\" />\n<ul aria-label=\"Colour "
      "bar, {}\">\n",
      bar, range.colours == Colours::kAmount ? "from dark to light" : "from blue over grey to orange");
  constexpr int kNumbers = 5;
  for (int i = 0; i < kNumbers; ++i) {
    const double value = range.low + (range.high - range.low) * i / (kNumbers - 1);
    const bool is_first = i == 0, is_last = i == kNumbers - 1;
    out += fmt::format("<li>{}{}</li>\n",
                       is_first && range.cut_low   ? "≤ "
                       : is_last && range.cut_high ? "≥ "
                                                   : "",
                       escaped(is_last ? number_text(value, unit) : number_text(value)));
  }
  const double length_m = scale_length_m(camera);
  return out +
         fmt::format("</ul>\n</div>\n<div class=\"scale\" style=\"width:{:.3f}%\"><span>{:g} mm</span></div>\n</div>\n",
                     100.0 * length_m * camera.px_per_m / camera.width_px, 1e3 * length_m);
}

std::string figure_html(const Picture& picture, const Camera& camera, const Range& range, const FigureText& text,
                        std::span<const Mark> marks) {
  return fmt::format("<figure id=\"{}\">\n<h3>{}</h3>\n{}{}<figcaption>{}</figcaption>\n</figure>\n", escaped(text.id),
                     escaped(text.title), stage_html(picture, camera, text.alt, marks),
                     legend_html(range, text.unit, camera), escaped(text.caption));
}

Camera sheet_camera(const Moment& moment, const mesh::TriangleMesh* mould) {
  auto [low, high] = box_of(moment.points_m);
  if (mould != nullptr && !mould->points_m.empty()) {
    const auto [mould_low, mould_high] = box_of(mould->points_m);
    const Vec3 around = kAround * Vec3(mould_high.x() - mould_low.x(), mould_high.y() - mould_low.y(), 0.0);
    low = low.cwiseMax(mould_low - around);
    high = high.cwiseMin(mould_high + around).cwiseMax(low);
  }
  return fitting_camera(low, high, kAzimuth, kHeight);
}

Camera flat_camera(std::span<const Vec3> points_m) {
  const auto [low, high] = box_of(points_m);
  return fitting_camera(low, high, -0.5 * std::numbers::pi, 0.5 * std::numbers::pi);
}

std::string relief_figure(const ReliefResult& relief, std::size_t number) {
  const imprint::ReliefAnswer& a = relief.answer;
  if (a.nx < 2 || a.sheet_height_m.empty()) return "";
  if (a.ny < 2) return profile_figure(relief, number);
  const Grid grid = grid_of(a);
  if (grid.triangles.empty()) return "";
  std::optional<Range> range = range_of(grid.gap_mm, true);
  range = Range{0.0, range ? range->high : std::max(1e-3, 1e3 * a.own_depth_m), false, range && range->cut_high};
  const auto [low, high] = box_of(grid.points_m);
  const Camera camera = fitting_camera(low, high, kAzimuthOfRelief, kHeightOfRelief);
  const Picture picture = drawn({grid.points_m, grid.triangles, grid.gap_mm, range->low, range->high}, camera);
  const std::string title = fmt::format("Relief {}: gap left under the sheet", a.name);
  return figure_html(picture, camera, *range,
                     {fmt::format("relief-{}", number), title, "mm",
                      fmt::format("{}, drawn over the sheet's own shape. {}", title, answer_text(relief)),
                      answer_text(relief) + " Seen slantwise over its patch, heights to scale."});
}

}  // namespace pellicle::report
