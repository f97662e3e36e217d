// What does the view on the page need? The kept moments of the sheet as whole numbers of 16 bits, in base64, in JSON.
#include "io/report/view_data.h"

#include "io/report/base64.h"
#include "io/report/colour_map.h"
#include "io/results/json.h"
#include "mesh/check.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include <optional>
#include <utility>

namespace pellicle::report {
namespace {

using mesh::Vec3;
using Bytes = std::vector<std::uint8_t>;

constexpr double kMostPlace = 65535.0, kMostValue = 65534.0;
constexpr std::uint16_t kNone = 65535;
constexpr std::size_t kShortNumbers = 65536;

void put(Bytes& bytes, std::uint32_t value, int count) {
  for (int k = 0; k < count; ++k) bytes.push_back(static_cast<std::uint8_t>(value >> (8 * k) & 255U));
}

struct Box {
  Vec3 low_m = Vec3::Constant(std::numeric_limits<double>::infinity());
  Vec3 high_m = -low_m;
};

void widen(Box& box, const std::vector<Vec3>& points_m) {
  for (const Vec3& p : points_m) {
    box.low_m = box.low_m.cwiseMin(p);
    box.high_m = box.high_m.cwiseMax(p);
  }
}

std::string points_text(const std::vector<Vec3>& points_m, const Box& box) {
  Bytes bytes;
  bytes.reserve(6 * points_m.size());
  const Vec3 size_m = box.high_m - box.low_m;
  for (const Vec3& p : points_m)
    for (int k = 0; k < 3; ++k) {
      const double share = size_m[k] > 0.0 ? (p[k] - box.low_m[k]) / size_m[k] : 0.0;
      put(bytes, static_cast<std::uint32_t>(std::lround(kMostPlace * share)), 2);
    }
  return base64(bytes);
}

int corner_bytes(const std::vector<Vec3>& points_m) { return points_m.size() <= kShortNumbers ? 2 : 4; }

std::string triangles_text(const std::vector<mesh::Triangle>& triangles, int bytes_each) {
  Bytes bytes;
  for (const mesh::Triangle& t : triangles)
    for (const int corner : t) put(bytes, static_cast<std::uint32_t>(corner), bytes_each);
  return base64(bytes);
}

/// Least and largest finite value over all moments.
struct Span {
  double least = std::numeric_limits<double>::infinity(), largest = -least;
};

Span span_of(const std::vector<Moment>& moments, const std::string& key) {
  Span span;
  for (const Moment& moment : moments) {
    const Field* field = find_field(moment, key);
    if (field == nullptr) continue;
    for (const double value : field->values) {
      if (!std::isfinite(value)) continue;
      span.least = std::min(span.least, value);
      span.largest = std::max(span.largest, value);
    }
  }
  return span;
}

std::string values_text(const Field& field, const Span& span) {
  Bytes bytes;
  for (const double value : field.values) {
    const double share = (value - span.least) / (span.largest - span.least);
    put(bytes, std::isfinite(value) ? static_cast<std::uint32_t>(std::lround(kMostValue * share)) : kNone, 2);
  }
  return base64(bytes);
}

std::size_t bytes_of(const std::vector<Moment>& moments) {
  std::size_t bytes = 0;
  for (std::size_t i = 0; i < moments.size(); ++i) {
    const Moment& m = moments[i];
    bytes += m.points_m.size() * (6 + 2 * m.fields.size());
    if (i == 0 || m.triangles != moments[i - 1].triangles)
      bytes += m.triangles.size() * 3 * static_cast<std::size_t>(corner_bytes(m.points_m));
  }
  return bytes;
}

void add_fields(results::Json& json, const std::vector<Moment>& moments,
                std::vector<std::pair<std::string, Span>>& told) {
  json.key("fields").open_list();
  for (const Field& field : moments.back().fields) {
    const std::optional<Range> range = range_of(field);
    const Span span = span_of(moments, field.key);
    if (!range || !(span.least < span.largest)) continue;
    told.emplace_back(field.key, span);
    json.open_object();
    json.key("key").text(field.key).key("name").text(field.name).key("unit").text(field.unit);
    json.key("least").number(span.least).key("largest").number(span.largest);
    json.key("low").number(range->low).key("high").number(range->high).close_object();
  }
  json.close_list();
}

void add_moment(results::Json& json, const Moment& moment, const Moment* before, const Box& box,
                const std::vector<std::pair<std::string, Span>>& told) {
  json.open_object();
  json.key("time_s").number(moment.time_s).key("stage").text(moment.stage);
  json.key("pressure_bar").number(1e-5 * moment.pressure_Pa);
  json.key("points").text(points_text(moment.points_m, box));
  json.key("corner_bytes").whole(corner_bytes(moment.points_m));
  json.key("triangles");
  if (before != nullptr && before->triangles == moment.triangles)
    json.null();
  else
    json.text(triangles_text(moment.triangles, corner_bytes(moment.points_m)));
  json.key("values").open_object();
  for (const auto& [key, span] : told) {
    const Field* field = find_field(moment, key);
    if (field != nullptr) json.key(key).text(values_text(*field, span));
  }
  json.close_object().close_object();
}

std::vector<double> in_mm(const Vec3& p_m) { return {1e3 * p_m.x(), 1e3 * p_m.y(), 1e3 * p_m.z()}; }

void add_mould(results::Json& json, const mesh::TriangleMesh& mould) {
  Box box;
  widen(box, mould.points_m);
  json.open_object();
  json.key("low_mm").numbers(in_mm(box.low_m)).key("high_mm").numbers(in_mm(box.high_m));
  json.key("points").text(points_text(mould.points_m, box));
  json.key("corner_bytes").whole(corner_bytes(mould.points_m));
  json.key("triangles").text(triangles_text(mould.triangles, corner_bytes(mould.points_m))).close_object();
}

}  // namespace

std::string view_json(std::vector<Moment> moments, const Camera& camera, std::size_t most_bytes,
                      const Coarsened* mould) {
  ensure(!moments.empty(), "a view shows a moment");
  while (moments.size() > 2 && bytes_of(moments) > most_bytes) leave_out_one(moments);
  if (moments.size() == 2 && bytes_of(moments) > most_bytes) moments.erase(moments.begin());
  Box box;
  for (const Moment& moment : moments) widen(box, moment.points_m);
  Bytes palette;
  for (const Rgb& c : colour_map()) palette.insert(palette.end(), {c.red, c.green, c.blue, 255});

  results::Json json;
  json.open_object();
  json.key("palette").text(base64(palette));
  json.key("low_mm").numbers(in_mm(box.low_m));
  json.key("high_mm").numbers(in_mm(box.high_m));
  json.key("middle_mm").numbers(in_mm(camera.middle_m));
  json.key("across_mm").number(1e3 * camera.width_px / camera.px_per_m);
  json.key("azimuth_rad").number(std::atan2(camera.towards.y(), camera.towards.x()));
  json.key("height_rad").number(std::asin(std::clamp(camera.towards.z(), -1.0, 1.0)));
  std::vector<std::pair<std::string, Span>> told;
  add_fields(json, moments, told);
  json.key("moments").open_list();
  for (std::size_t i = 0; i < moments.size(); ++i)
    add_moment(json, moments[i], i == 0 ? nullptr : &moments[i - 1], box, told);
  json.close_list();
  json.key("mould");
  if (mould != nullptr)
    add_mould(json, mould->surface);
  else
    json.null();
  json.close_object();
  return json.finish();
}

}  // namespace pellicle::report
