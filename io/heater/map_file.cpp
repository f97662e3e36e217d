// Which file tells how evenly the heater has warmed the sheet, and what temperature has each place by it?
#include "io/heater/map_file.h"

#include "io/measured/table_lines.h"
#include "io/reliefs/bytes.h"
#include "io/reliefs/image.h"
#include "mesh/check.h"

#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <charconv>
#include <cmath>
#include <vector>

namespace pellicle::heater {
namespace {

constexpr double kZero_K = 273.15;
constexpr double kColdest_C = 0.0, kHottest_C = 400.0, kFarthest_mm = 2000.0;
constexpr std::uintmax_t kMostBytes = 64 << 20;

struct Point {
  mesh::Vec2 at_m;
  double K;
};

[[noreturn]] void refuse(std::string where, std::string found, std::string allowed) {
  throw Error({.kind = Fault::Kind::kCase,
               .where = std::move(where),
               .found = std::move(found),
               .allowed = std::move(allowed),
               .advice = "Write a header x_mm,y_mm,temperature_C and then a point a line"});
}

double number_in(std::string_view cell, double low, double high, const std::string& where) {
  double value = 0.0;
  const auto [end, fault] = std::from_chars(cell.data(), cell.data() + cell.size(), value);
  if (fault != std::errc{} || end != cell.data() + cell.size() || !(value >= low && value <= high))
    refuse(where, fmt::format("\"{}\"", cell), fmt::format("a number, {:g} to {:g}", low, high));
  return value;
}

std::vector<Point> points_of(std::string_view text, const std::string& name) {
  measured::TableLines lines(text);
  const auto header = lines.next();
  if (!header || measured::cells_of(*header) != std::vector<std::string_view>{"x_mm", "y_mm", "temperature_C"})
    refuse(lines.place(name), header ? fmt::format("\"{}\"", *header) : "an empty file",
           "the header x_mm,y_mm,temperature_C");
  std::vector<Point> points;
  while (const auto line = lines.next()) {
    const std::vector<std::string_view> cells = measured::cells_of(*line);
    const std::string where = lines.place(name);
    if (cells.size() != 3) refuse(where, fmt::format("{} cells", cells.size()), "three");
    if (points.size() == kMostPoints) refuse(where, "more points", fmt::format("at most {}", kMostPoints));
    points.push_back({{1e-3 * number_in(cells[0], -kFarthest_mm, kFarthest_mm, where),
                       1e-3 * number_in(cells[1], -kFarthest_mm, kFarthest_mm, where)},
                      kZero_K + number_in(cells[2], kColdest_C, kHottest_C, where)});
  }
  if (points.empty()) refuse(lines.place(name), "no point", "one point or more");
  return points;
}

/// Moving least squares; `near_m` keeps the weight of a point finite at its own place.
double between_K(const std::vector<Point>& points, const mesh::Vec2& at_m, double near_m) {
  // Slopes are held by this share of the weights, so that points on one line, or a single one, tell what they can.
  constexpr double kHeld = 1e-9;
  Eigen::Matrix3d gram = Eigen::Matrix3d::Zero();
  Eigen::Vector3d moments = Eigen::Vector3d::Zero();
  double low_K = points.front().K, high_K = low_K, sum = 0.0;
  for (const Point& p : points) low_K = std::min(low_K, p.K), high_K = std::max(high_K, p.K);
  for (const Point& p : points) {
    const mesh::Vec2 away = p.at_m - at_m;
    const double d_sq = away.squaredNorm() + near_m * near_m,
                 weight = near_m * near_m * near_m * near_m / (d_sq * d_sq);
    const Eigen::Vector3d row{1.0, away.x() / near_m, away.y() / near_m};
    gram += weight * row * row.transpose();
    moments += weight * (p.K - low_K) * row;
    sum += weight;
  }
  gram(1, 1) += kHeld * sum, gram(2, 2) += kHeld * sum;
  return std::clamp(low_K + gram.ldlt().solve(moments)[0], low_K, high_K);
}

}  // namespace

sheet::TemperatureMap read_table(std::string_view text, const std::string& name, const mesh::Outline& outline) {
  const std::vector<Point> points = points_of(text, name);
  // The points of a loop count from its centre and may all lie on one side of it.
  const double half_m = std::holds_alternative<mesh::Loop>(outline.shape) ? mesh::longer_side_m(outline)
                                                                          : 0.5 * mesh::longer_side_m(outline);
  sheet::TemperatureMap map{
      outline.centre_m - mesh::Vec2(half_m, half_m), 2.0 * half_m / (kGridPoints - 1), kGridPoints, kGridPoints, {}};
  for (int j = 0; j < map.rows; ++j)
    for (int i = 0; i < map.columns; ++i)
      map.at_K.push_back(between_K(points, map.corner_m + map.spacing_m * mesh::Vec2(i, j), 0.1 * map.spacing_m));
  return map;
}

std::string bytes_of(const MapFile& file) { return reliefs::read_bytes(file.path, kMostBytes); }

std::string_view kept_name(const MapFile& file) {
  return std::holds_alternative<Table>(file.kind) ? kKeptTable : kKeptPicture;
}

sheet::TemperatureMap map_of(std::string_view bytes, const MapFile& file, const mesh::Outline& outline) {
  const std::string name = file.path.string();
  const auto* picture = std::get_if<Picture>(&file.kind);
  if (picture == nullptr) return read_table(bytes, name, outline);
  const mesh::HeightMap shares = reliefs::read_image(bytes, name, 1.0, 1.0, false);
  const double pixel_m = picture->width_m / shares.nx;
  const mesh::Vec2 half_m = 0.5 * pixel_m * mesh::Vec2(shares.nx - 1, shares.ny - 1);
  sheet::TemperatureMap map{picture->middle_m - half_m, pixel_m, shares.nx, shares.ny, {}};
  for (const double share : shares.height_m)
    map.at_K.push_back(picture->black_K + share * (picture->white_K - picture->black_K));
  map.check();
  return map;
}

double mean_K(const sheet::TemperatureMap& map, const mesh::Outline& outline) {
  constexpr int kSide = 200;
  const double side_m = 2.0 * mesh::longer_side_m(outline);
  double sum_K = 0.0;
  int inside = 0;
  for (int j = 0; j < kSide; ++j)
    for (int i = 0; i < kSide; ++i) {
      const mesh::Vec2 p = outline.centre_m + side_m * mesh::Vec2((i + 0.5) / kSide - 0.5, (j + 0.5) / kSide - 0.5);
      if (!mesh::contains(outline, p)) continue;
      sum_K += map(p).mould_side_K;
      ++inside;
    }
  ensure(inside > 0, "an outline has an inside");
  return sum_K / inside;
}

}  // namespace pellicle::heater
