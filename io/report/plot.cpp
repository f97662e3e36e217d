// How does a curve become a picture?
#include "io/report/plot.h"

#include "io/report/html.h"
#include "mesh/check.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <string_view>
#include <utility>

namespace pellicle::report {
namespace {

// Lengths in px of the picture.
constexpr double kPanelWidth = 440.0, kPanelHeight = 330.0;
constexpr double kLeft = 62.0, kRight = 18.0, kTop = 30.0, kBottom = 50.0;  // margins of a panel around its frame
constexpr double kHead = 40.0, kLegendRow = 22.0, kNoteRow = 17.0, kEdge = 14.0;
constexpr double kLetter = 6.6;  // mean width of a letter at 12 px

struct Look {
  std::string_view colour, dashes, mark;
};
constexpr std::array<Look, 6> kLooks{{{"#000000", "none", "circle"},
                                      {"#D55E00", "9 3", "square"},
                                      {"#0072B2", "3 2.5", "triangle"},
                                      {"#009E73", "10 3 2.5 3", "diamond"},
                                      {"#CC79A7", "14 4", "cross"},
                                      {"#E69F00", "6 2 2 2 2 2", "ring"}}};

std::string text_at(double x, double y, std::string_view text, std::string_view attributes = "") {
  return fmt::format("<text x=\"{:.1f}\" y=\"{:.1f}\"{}{}>{}</text>\n", x, y, attributes.empty() ? "" : " ", attributes,
                     escaped(text));
}

std::string mark_at(std::string_view mark, double x, double y, std::string_view colour) {
  constexpr double r = 3.6;
  if (mark == "circle" || mark == "ring") {
    return fmt::format(
        "<circle cx=\"{:.2f}\" cy=\"{:.2f}\" r=\"{}\" fill=\"{}\" stroke=\"{}\" stroke-width=\"1.4\"/>\n", x, y, r,
        mark == "ring" ? "#ffffff" : colour, colour);
  }
  if (mark == "cross") {
    return fmt::format(
        "<path d=\"M{:.2f} {:.2f}l{} {}m0 -{}l-{} {}\" fill=\"none\" stroke=\"{}\" stroke-width=\"2\"/>\n", x - r,
        y - r, 2 * r, 2 * r, 2 * r, 2 * r, 2 * r, colour);
  }
  const std::string_view shape = mark == "square"     ? "m-3.2 -3.2h6.4v6.4h-6.4z"
                                 : mark == "triangle" ? "m0 -4.2l4 7.2h-8z"
                                                      : "m0 -4.6l4.4 4.6l-4.4 4.6l-4.4 -4.6z";
  return fmt::format("<path d=\"M{:.2f} {:.2f}{}\" fill=\"{}\"/>\n", x, y, shape, colour);
}

/// From numbers to px inside the frame of a panel.
class Frame {
 public:
  Frame(const PlotPanel& panel, double left, double top) : panel_(panel), left_(left), top_(top) {}
  double width() const { return kPanelWidth - kLeft - kRight; }
  double height() const { return kPanelHeight - kTop - kBottom; }
  double left() const { return left_; }
  double top() const { return top_; }
  double bottom() const { return top_ + height(); }
  double x(double value) const { return left_ + width() * share(panel_.x, value); }
  double y(double value) const { return bottom() - height() * share(panel_.y, value); }
  bool holds(const PlotPoint& p) const {
    return p.x >= panel_.x.low && p.x <= panel_.x.high && p.y >= panel_.y.low && p.y <= panel_.y.high;
  }

 private:
  static double share(const PlotAxis& axis, double value) {
    if (!axis.logarithmic) return (value - axis.low) / (axis.high - axis.low);
    // What has no logarithm lies far to the left.
    return value > 0.0 ? std::log(value / axis.low) / std::log(axis.high / axis.low) : -10.0;
  }
  const PlotPanel& panel_;
  double left_, top_;
};

std::string path_through(const Frame& frame, const std::vector<PlotPoint>& points) {
  std::string path;
  for (const PlotPoint& p : points)
    path += fmt::format("{}{:.2f} {:.2f}", path.empty() ? "M" : "L", frame.x(p.x), frame.y(p.y));
  return path;
}

std::string axes(const PlotPanel& panel, const Frame& frame) {
  std::string out;
  for (const double tick : axis_ticks(panel.x, 6)) {
    const double x = frame.x(tick);
    out += fmt::format("<path d=\"M{:.2f} {:.2f}V{:.2f}\" stroke=\"#dddddd\"/>\n", x, frame.top(), frame.bottom());
    out += text_at(x, frame.bottom() + 16.0, fmt::format("{:g}", tick), "text-anchor=\"middle\"");
  }
  for (const double tick : axis_ticks(panel.y, 6)) {
    const double y = frame.y(tick);
    out += fmt::format("<path d=\"M{:.2f} {:.2f}h{:.2f}\" stroke=\"#dddddd\"/>\n", frame.left(), y, frame.width());
    out += text_at(frame.left() - 7.0, y + 4.0, fmt::format("{:g}", tick), "text-anchor=\"end\"");
  }
  const double middle = frame.left() + 0.5 * frame.width(), height = frame.top() + 0.5 * frame.height();
  out += text_at(middle, frame.top() - 9.0, panel.title, "text-anchor=\"middle\" font-weight=\"bold\"");
  out += text_at(middle, frame.bottom() + 36.0, panel.x.title, "text-anchor=\"middle\"");
  const double side = frame.left() - 44.0;
  out += text_at(side, height, panel.y.title,
                 fmt::format("text-anchor=\"middle\" transform=\"rotate(-90 {:.1f} {:.1f})\"", side, height));
  return out;
}

using Names = std::vector<std::string>;

const Look& look_of(const Names& names, const std::string& name) {
  const auto at = std::find(names.begin(), names.end(), name) - names.begin();
  return kLooks[static_cast<std::size_t>(at) % kLooks.size()];
}

std::string curve_text(const PlotCurve& curve, const Look& look, const Frame& frame) {
  std::string out = fmt::format(
      "<path d=\"{}\" fill=\"none\" stroke=\"{}\" stroke-width=\"2\" stroke-dasharray=\"{}\" "
      "stroke-linejoin=\"round\"/>\n",
      path_through(frame, curve.points), look.colour, look.dashes);
  // Marks a little apart, so that they do not hide the dashes.
  constexpr double kApart = 46.0;
  std::optional<PlotPoint> last;
  for (const PlotPoint& p : curve.points) {
    const PlotPoint at{frame.x(p.x), frame.y(p.y)};
    if (!frame.holds(p) || (last && std::hypot(at.x - last->x, at.y - last->y) < kApart)) continue;
    out += mark_at(look.mark, at.x, at.y, look.colour);
    last = at;
  }
  return out;
}

std::string panel_text(const PlotPanel& panel, const std::string& frame_name, const Frame& frame, const Names& names) {
  std::string out = fmt::format(
      "<clipPath id=\"{}\"><rect x=\"{:.2f}\" y=\"{:.2f}\" width=\"{:.2f}\" height=\"{:.2f}\"/></clipPath>\n",
      frame_name, frame.left(), frame.top(), frame.width(), frame.height());
  std::string bands, curves;
  for (const PlotBand& band : panel.bands) {
    std::vector<PlotPoint> around = band.low;
    around.insert(around.end(), band.high.rbegin(), band.high.rend());
    bands += fmt::format("<path d=\"{}Z\" fill=\"#8c8c8c\" fill-opacity=\"0.3\"/>\n", path_through(frame, around));
  }
  for (const PlotCurve& curve : panel.curves) curves += curve_text(curve, look_of(names, curve.name), frame);
  out += axes(panel, frame);
  out += fmt::format("<g clip-path=\"url(#{})\">\n{}{}</g>\n", frame_name, bands, curves);
  out += fmt::format(
      "<rect x=\"{:.2f}\" y=\"{:.2f}\" width=\"{:.2f}\" height=\"{:.2f}\" fill=\"none\" stroke=\"#333333\"/>\n",
      frame.left(), frame.top(), frame.width(), frame.height());
  return out;
}

void add_name(Names& names, const std::string& name) {
  if (std::find(names.begin(), names.end(), name) == names.end()) names.push_back(name);
}

/// Rows of samples with their names; how high it became is the second part.
std::pair<std::string, double> legend(const Names& curves, const Names& bands, double width, double top) {
  constexpr double kSample = 38.0, kGap = 20.0;
  std::string out;
  double x = kLeft, y = top;
  const auto place = [&](const std::string& name) {
    const double wide = kSample + 8.0 + kLetter * static_cast<double>(name.size()) + kGap;
    if (x > kLeft && x + wide > width - kEdge) {
      x = kLeft;
      y += kLegendRow;
    }
    out += text_at(x + kSample + 7.0, y + 4.0, name);
    const double at = x;
    x += wide;
    return at;
  };
  for (const std::string& name : curves) {
    const Look& look = look_of(curves, name);
    const double at = place(name);
    out += fmt::format("<path d=\"M{:.1f} {:.1f}h{}\" stroke=\"{}\" stroke-width=\"2\" stroke-dasharray=\"{}\"/>\n", at,
                       y, kSample, look.colour, look.dashes);
    out += mark_at(look.mark, at + 0.5 * kSample, y, look.colour);
  }
  for (const std::string& name : bands) {
    const double at = place(name);
    out += fmt::format(
        "<rect x=\"{:.1f}\" y=\"{:.1f}\" width=\"{}\" height=\"12\" fill=\"#8c8c8c\" fill-opacity=\"0.3\"/>\n", at,
        y - 6.0, kSample);
  }
  return {out, y - top + kLegendRow};
}

}  // namespace

std::vector<double> axis_ticks(const PlotAxis& axis, int count) {
  ensure(axis.low < axis.high && count > 0 && (!axis.logarithmic || axis.low > 0.0), "an axis runs from low to high");
  std::vector<double> ticks;
  const double reach = 1e-9 * (axis.high - axis.low);
  if (axis.logarithmic) {
    // Three a decade, six where there is hardly more than one, one where there are more than three.
    const bool is_short = axis.high<20.0 * axis.low, is_long = axis.high> 1000.0 * axis.low;
    for (double decade = std::pow(10.0, std::floor(std::log10(axis.low))); decade <= axis.high; decade *= 10.0) {
      for (const double part : {1.0, 1.5, 2.0, 3.0, 5.0, 7.0}) {
        const double tick = part * decade;
        if (is_long && part != 1.0) continue;
        const bool is_wanted = is_short || part == 1.0 || part == 2.0 || part == 5.0;
        if (is_wanted && tick >= axis.low - reach && tick <= axis.high + reach) ticks.push_back(tick);
      }
    }
    return ticks;
  }
  const double rough = (axis.high - axis.low) / count, power = std::pow(10.0, std::floor(std::log10(rough)));
  const double step = power * (rough <= 1.5 * power   ? 1.0
                               : rough <= 3.5 * power ? 2.0
                               : rough <= 7.5 * power ? 5.0
                                                      : 10.0);
  const auto first = static_cast<long>(std::ceil((axis.low - reach) / step));
  const auto last = static_cast<long>(std::floor((axis.high + reach) / step));
  for (long k = first; k <= last; ++k) ticks.push_back(static_cast<double>(k) * step);
  return ticks;
}

namespace {

/// The notes in lines no longer than there is room for, broken at blanks.
std::vector<std::string> note_lines(const std::vector<std::string>& notes, double room) {
  const auto most = static_cast<std::size_t>(room / kLetter);
  std::vector<std::string> lines;
  for (const std::string& note : notes) {
    std::string_view left = note;
    while (left.size() > most && left.find(' ') != std::string_view::npos) {
      std::size_t end = left.rfind(' ', most);
      if (end == std::string_view::npos) end = left.find(' ');
      lines.emplace_back(left.substr(0, end));
      left.remove_prefix(end + 1);
    }
    lines.emplace_back(left);
  }
  return lines;
}

}  // namespace

std::string svg(const Figure& figure) {
  Names curves, bands;
  for (const PlotPanel& panel : figure.panels) {
    for (const PlotCurve& curve : panel.curves) add_name(curves, curve.name);
    for (const PlotBand& band : panel.bands) add_name(bands, band.name);
  }
  const std::size_t columns = std::min<std::size_t>(2, std::max<std::size_t>(1, figure.panels.size()));
  const std::size_t rows = (figure.panels.size() + columns - 1) / columns;
  const double width = kPanelWidth * static_cast<double>(columns);
  const auto [samples, high] = legend(curves, bands, width, kHead + 14.0);
  const double top = kHead + 8.0 + high, notes = top + kPanelHeight * static_cast<double>(rows);
  const std::vector<std::string> lines = note_lines(figure.notes, width - kLeft - kRight);
  const double height = notes + kNoteRow * static_cast<double>(lines.size()) + kEdge;

  std::string out = fmt::format(
      "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {0:.0f} {1:.0f}\" width=\"{0:.0f}\" height=\"{1:.0f}\" "
      "role=\"img\" font-family=\"sans-serif\" font-size=\"12\" fill=\"#111111\">\n<title>{2}</title>\n"
      "<rect width=\"100%\" height=\"100%\" fill=\"#ffffff\"/>\n",
      width, height, escaped(figure.title));
  out += text_at(kLeft, 26.0, figure.title, "font-size=\"15\" font-weight=\"bold\"") + samples;
  for (std::size_t i = 0; i < figure.panels.size(); ++i) {
    const double left = kPanelWidth * static_cast<double>(i % columns) + kLeft;
    const Frame frame(figure.panels[i], left, top + kPanelHeight * static_cast<double>(i / columns) + kTop);
    out += panel_text(figure.panels[i], fmt::format("{}{}", figure.frames, i), frame, curves);
  }
  for (std::size_t i = 0; i < lines.size(); ++i)
    out += text_at(kLeft, notes + kNoteRow * (static_cast<double>(i) + 0.5), lines[i], "fill=\"#444444\"");
  return out + "</svg>\n";
}

}  // namespace pellicle::report
