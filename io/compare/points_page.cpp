// What does a colleague see of a measured part? compare.html: the points on the part, their errors and what they say.
#include "io/compare/points_page.h"

#include "io/report/figures.h"
#include "io/report/html.h"
#include "io/report/page_frame.h"
#include "io/report/parts.h"
#include "io/results/stored_run.h"

#include <fmt/format.h>

#include <cmath>

namespace pellicle::compare {
namespace {

using report::escaped;
using report::section;

std::string said_text(const MeasuredPart& part) {
  std::string out = "<ul>\n";
  for (const std::string& line : sentences(part)) out += fmt::format("<li>{}</li>\n", escaped(line));
  for (const std::string& note : part.notes) out += fmt::format("<li>{}</li>\n", escaped(note));
  return out + "</ul>\n";
}

/// The predicted wall with the points on it, by their numbers in the table.
std::string part_text(const std::vector<const PointAnswer*>& points, const SheetLookup& sheet,
                      const mesh::TriangleMesh* mould) {
  std::vector<double> wall_mm = sheet.thickness_m();
  for (double& value : wall_mm) value *= 1e3;
  const auto range = report::range_of(wall_mm, false);
  if (!range) return "<p>The wall is the same everywhere.</p>\n";
  const mesh::TriangleMesh& face = sheet.face();
  const report::Moment moment{0.0, "", 0.0, 0.0, face.points_m, face.triangles, {}};
  const report::Camera camera = report::sheet_camera(moment, mould);
  std::vector<report::Mark> marks;
  constexpr double kLine_px = 6.0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    if (!points[i]->counts()) continue;
    marks.push_back(
        {fmt::format("{}", i + 1), points[i]->place_m,
         report::is_hidden(face.points_m, face.triangles, camera, points[i]->place_m, kLine_px / camera.px_per_m)});
  }
  return report::figure_html(
      report::drawn({face.points_m, face.triangles, wall_mm, range->low, range->high}, camera), camera, *range,
      {"wall", "Predicted wall thickness", "mm", "The formed sheet, coloured by its predicted wall thickness",
       "Numbers stand where the points of the table below were measured; with a broken rim, on the far side."},
      marks);
}

std::string points_text(const MeasuredPart& part, const std::vector<const PointAnswer*>& points) {
  std::string rows;
  for (std::size_t i = 0; i < points.size(); ++i) {
    const PointAnswer& a = *points[i];
    rows += fmt::format(
        "<tr><th scope=\"row\">{}. {}</th><td>{}</td><td>{}</td><td>{:.3f}</td><td>{}</td><td>{}</td></tr>\n", i + 1,
        escaped(name_text(a)), place_mm_text(a),
        std::isfinite(a.distance_m) ? fmt::format("{:.2f}", 1e3 * a.distance_m) : "", 1e3 * a.point.thickness_m,
        std::isfinite(a.predicted_m) ? fmt::format("{:.3f}", 1e3 * a.predicted_m) : "",
        a.counts() ? error_text(a) : escaped("left out: " + a.left_out));
  }
  const std::string name = points.size() < part.answers.size()
                               ? fmt::format("The {} worst of {} points, in mm", points.size(), part.answers.size())
                               : fmt::format("{} points, in mm", points.size());
  return report::table(name, {"Point", "On the sheet at x, y, z", "Away", "Measured", "Predicted", "Error"}, rows);
}

}  // namespace

std::string page(const MeasuredPart& part, const SheetLookup& sheet, const mesh::TriangleMesh* mould) {
  const fit::Misfit& m = part.misfit;
  const std::vector<const PointAnswer*> points = shown(part.answers);
  const std::vector<std::string> said = sentences(part);
  return report::framed({part.title + ": measured",
                         fmt::format("{} against {}, sheet of {:.3g} mm", results::name_of(part.folder),
                                     results::name_of(part.table), 1e3 * part.gauge_m),
                         m.agrees()      ? "The walls are as predicted, within the errors"
                         : m.has_pattern ? "The walls are spread otherwise than predicted"
                                         : fmt::format("The walls are {:.3f} of the predicted", m.factor),
                         m.agrees() ? "fine" : "doubt", said.front(),
                         section("said", "What it says", said_text(part)) +
                             section("part", "The part", part_text(points, sheet, mould)) +
                             section("points", "The points", points_text(part, points)),
                         fmt::format("Pellicle {}.", PELLICLE_VERSION)});
}

}  // namespace pellicle::compare
