// What does the page show of the printed mould? What it bears, coloured by triangle.
#include "io/report/mould_pictures.h"

#include "io/report/figures.h"
#include "io/report/html.h"
#include "mesh/check.h"

#include <fmt/format.h>

namespace pellicle::report {
namespace {

std::string figure(const Moment& corners, const std::vector<double>& per_triangle, bool from_zero, double scale,
                   double offset, FigureText text) {
  std::vector<double> values;
  for (const double value : per_triangle) values.insert(values.end(), 3, scale * value + offset);
  std::optional<Range> range = range_of(values, false);
  if (!range) return "";
  if (from_zero) range->low = 0.0;
  const Camera camera = sheet_camera(corners, nullptr);
  text.alt = fmt::format("The mould, coloured by {} from {} to {}", text.alt, number_text(range->low),
                         number_text(range->high, text.unit));
  return figure_html(drawn({corners.points_m, corners.triangles, values, range->low, range->high}, camera), camera,
                     *range, text);
}

}  // namespace

std::string mould_figures(const mesh::TriangleMesh& mould, const MouldBodyField& field) {
  if (field.stress_share.empty() || mould.triangles.empty()) return "";
  ensure(field.stress_share.size() == mould.triangles.size() &&
             (field.peak_K.empty() || field.peak_K.size() == mould.triangles.size()),
         "one value a triangle of the mould");
  Moment corners;  // each triangle with corners of its own, so that it has one colour
  for (const mesh::Triangle& t : mould.triangles) {
    const int first = static_cast<int>(corners.points_m.size());
    for (const int corner : t) corners.points_m.push_back(mould.points_m[static_cast<std::size_t>(corner)]);
    corners.triangles.push_back({first, first + 1, first + 2});
  }
  return figure(corners, field.stress_share, true, 1.0, 0.0,
                {"mould_stress", "Mould: share of its strength in use", "", "share of strength",
                 "Tension over the strength at temperature, of the shell at and behind each triangle. Many pressings "
                 "may use half. The worst place may lie on a side that is not seen here: the finding tells it."}) +
         figure(corners, field.peak_K, false, 1.0, -273.15,
                {"mould_peak", "Mould: hottest moment", "°C", "temperature", "In a cycle of a long series."});
}

}  // namespace pellicle::report
