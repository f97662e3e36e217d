// What is done to the sheet, what is kept of it, and how is it computed? Stages, trim, limits, numerics.
#include "io/case/sections.h"
#include "mesh/check.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

namespace pellicle::cases {
namespace {

using mesh::Vec2;

std::variant<PressureDrive, GasDrive, VolumeDrive> read_drive(const Values& values, const std::string& stage) {
  const Value* pressure = values.find(stage + ".pressure");
  const Value* volume = values.find(stage + ".volume");
  const bool has_gas = values.has_table(stage + ".gas");
  const int given = (pressure ? 1 : 0) + (volume ? 1 : 0) + (has_gas ? 1 : 0);
  if (given != 1) {
    std::string found;
    if (pressure) found = "pressure";
    if (has_gas) found += std::string(found.empty() ? "" : " and ") + "gas";
    if (volume) found += std::string(found.empty() ? "" : " and ") + "volume";
    values.refuse(stage, given == 0 ? "none of pressure, gas, volume" : found, "exactly one of pressure, gas, volume",
                  given == 0 ? "Write for example pressure = \"4 bar\"; a hold repeats the last pressure"
                             : "A pressure is given, or it is the result of a volume or of gas flowing in");
  }
  if (pressure) return PressureDrive{pressure->number()};
  if (volume) return VolumeDrive{volume->number()};
  GasDrive gas{};
  gas.supply_Pa = values.at(stage + ".gas.supply").number();
  gas.orifice_m = values.at(stage + ".gas.orifice").number();
  gas.chamber_m3 = values.at(stage + ".gas.chamber").number();
  gas.adiabatic = values.at(stage + ".gas.process").text == "adiabatic";
  return gas;
}

double cross(const Vec2& a, const Vec2& b) { return a.x() * b.y() - a.y() * b.x(); }

/// Whether the closed segments ab and cd share a point.
bool segments_meet(const Vec2& a, const Vec2& b, const Vec2& c, const Vec2& d) {
  const double abc = cross(b - a, c - a), abd = cross(b - a, d - a);
  const double cda = cross(d - c, a - c), cdb = cross(d - c, b - c);
  const auto within = [](const Vec2& p, const Vec2& q, const Vec2& r) {  // r on the line pq: between them?
    return std::min(p.x(), q.x()) <= r.x() && r.x() <= std::max(p.x(), q.x()) && std::min(p.y(), q.y()) <= r.y() &&
           r.y() <= std::max(p.y(), q.y());
  };
  if (((abc > 0 && abd < 0) || (abc < 0 && abd > 0)) && ((cda > 0 && cdb < 0) || (cda < 0 && cdb > 0))) return true;
  return (abc == 0 && within(a, b, c)) || (abd == 0 && within(a, b, d)) || (cda == 0 && within(c, d, a)) ||
         (cdb == 0 && within(c, d, b));
}

std::string point_text(const Vec2& p_m) { return fmt::format("({:.6g}, {:.6g}) mm", p_m.x() * 1e3, p_m.y() * 1e3); }

void check_loop(const Values& values, const std::vector<Vec2>& loop_m) {
  const std::size_t n = loop_m.size();
  constexpr std::size_t kMostPoints = 2000;  // the check below is of order n^2
  if (n < 3 || n > kMostPoints) {
    values.refuse("part.trim", fmt::format("a loop of {} points", n), fmt::format("3 to {} points", kMostPoints),
                  "The last point is joined to the first");
  }
  double twice_area_m2 = 0.0;
  for (std::size_t i = 0; i < n; ++i) {
    const Vec2 &a = loop_m[i], &b = loop_m[(i + 1) % n];
    if (a == b) values.refuse("part.trim", "twice the same point " + point_text(a), "points that differ");
    twice_area_m2 += cross(a, b);
    for (std::size_t j = i + 2; j < n; ++j) {
      if (i == 0 && j == n - 1) continue;  // neighbours across the end
      if (segments_meet(a, b, loop_m[j], loop_m[(j + 1) % n])) {
        values.refuse("part.trim",
                      fmt::format("a loop that crosses itself: the side from {} meets the side from {}", point_text(a),
                                  point_text(loop_m[j])),
                      "a loop that does not cross or touch itself", "Give the points in order around the part");
      }
    }
  }
  const double reach_m = (*std::max_element(loop_m.begin(), loop_m.end(), [](const Vec2& a, const Vec2& b) {
                           return a.norm() < b.norm();
                         })).norm();
  if (std::fabs(twice_area_m2) <= 1e-12 * reach_m * reach_m) {  // round-off of the sum above
    values.refuse("part.trim", "a loop without area", "points that are not all on one line");
  }
}

}  // namespace

std::vector<StageSpec> read_stages(Values& values, Remarks& remarks) {
  const int count = values.count("forming.stage");
  if (count == 0) values.refuse("forming.stage", "no stage", "at least one [[forming.stage]]");
  std::vector<StageSpec> stages;
  std::set<std::string> names;
  for (int i = 1; i <= count; ++i) {
    const std::string path = fmt::format("forming.stage[{}]", i);
    if (!values.has(path + ".name")) {
      Value name;
      name.key = find_key("forming.stage.name");
      name.text = fmt::format("stage {}", i);
      name.origin = Origin::kDefault;
      values.put(path + ".name", name);
    }
    StageSpec stage;
    stage.name = values.at(path + ".name").text;
    stage.duration_s = values.at(path + ".duration").number();
    stage.drive = read_drive(values, path);
    if (const Value* clamp = values.find(path + ".clamp_to")) stage.clamp_to_m = clamp->number();
    if (!names.insert(stage.name).second) {
      remarks.warnings.push_back(fmt::format("{}: a second stage named {}; results tell them apart by time only",
                                             values.where(path + ".name"), in_quotes(stage.name)));
    }
    stages.push_back(std::move(stage));
  }
  return stages;
}

Trim read_trim(const Values& values) {
  if (const Value* height = values.find("part.trim.height")) return HeightTrim{height->number()};
  const Value* points = values.find("part.trim");
  if (points == nullptr) return MouldTrim{};
  std::vector<Vec2> loop_m;
  for (std::size_t i = 0; i + 1 < points->numbers.size(); i += 2) {
    loop_m.emplace_back(points->numbers[i], points->numbers[i + 1]);
  }
  if (loop_m.size() > 1 && loop_m.front() == loop_m.back()) loop_m.pop_back();  // closed by hand
  check_loop(values, loop_m);
  return LoopTrim{std::move(loop_m)};
}

Limits read_limits(const Values& values) {
  Limits limits;
  if (const Value* thickness = values.find("limits.min_thickness")) {
    limits.min_thickness_m = thickness->number();
  }
  return limits;
}

Numerics read_numerics(const Values& values) {
  Numerics numerics;
  numerics.pace = values.at("numerics.pace").text == "real" ? Pace::kReal : Pace::kQuasiStatic;
  numerics.threads = static_cast<int>(values.at("numerics.threads").number());
  numerics.energy_limit = values.at("numerics.energy_limit").number();
  numerics.frames = static_cast<int>(values.at("numerics.frames").number());
  return numerics;
}

void check_together(const Values& values, const Case& c) {
  if (!c.mould || !c.mould->platform) return;
  const double touch_m = -0.01 * c.sheet.thickness_m;  // design: a gap down to -1 % of the thickness counts as touch
  const auto check_height = [&](const std::string& path, double height_m) {
    if (height_m >= touch_m) return;
    throw Error({.kind = Fault::Kind::kGeometry,
                 .where = values.where(path),
                 .found = format_in(height_m, "mm") + ", below the platform at z = 0",
                 .allowed = "0 mm or more with mould.platform = true",
                 .advice = "Raise the clamp, or set platform = false"});
  };
  check_height("sheet.height", c.sheet.height_m);
  for (std::size_t i = 0; i < c.stages.size(); ++i) {
    if (c.stages[i].clamp_to_m) check_height(fmt::format("forming.stage[{}].clamp_to", i + 1), *c.stages[i].clamp_to_m);
  }
}

}  // namespace pellicle::cases
