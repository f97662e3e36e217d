// Which problems? Round sheets of every law, free and in moulds, sliding and sticking; a long trench; a small load.
//
// Allowed errors are those the documentation states for 40 elements on the radius (docs/verification.md).
#include "io/verify/problem.h"
#include "mesh/check.h"
#include "mesh/shapes.h"
#include "solver/reference/round_mould.h"
#include "solver/reference/sticking.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <numbers>

namespace pellicle::verify {
namespace {

using mesh::Vec2;
using mesh::Vec3;
using reference::Meridian;

constexpr double kRadius_m = 0.05, kThickness_m = 1e-3;
/// A wall of so many flats departs from the round one by 4e-5 of its radius.
constexpr int kFlats = 360;

constexpr double kHeight = 0.001, kPressure = 0.005;       // free disc
constexpr double kFreeRms = 0.003, kFreeLargest = 0.015;   // its thickness
constexpr double kSlideRms = 0.005, kSlideLargest = 0.02;  // thickness in a frictionless mould
constexpr double kStickRms = 0.01, kStickLargest = 0.03;   // and where the sheet sticks
constexpr double kTipRms = 0.03;                           // at the tip of a cone
constexpr double kDepth = 0.005;                           // depth of the sheet in a mould

/// A law in the words of a case, and apart from the solver.
struct NamedLaw {
  std::string name, toml;
  reference::Law law;
};
NamedLaw neo_hookean() {
  return {"neo-hookean", "kind = \"neo-hookean\"\nshear_modulus = \"0.3 MPa\"\n", reference::neo_hookean(0.3e6)};
}
NamedLaw mooney_rivlin() {
  return {"mooney-rivlin", "kind = \"mooney-rivlin\"\nc10 = \"0.12 MPa\"\nc01 = \"0.02 MPa\"\n",
          reference::mooney_rivlin(0.12e6, 0.02e6)};
}
NamedLaw yeoh() {
  return {"yeoh", "kind = \"yeoh\"\nc10 = \"0.15 MPa\"\nc20 = \"0.01 MPa\"\nc30 = \"0.002 MPa\"\n",
          reference::yeoh(0.15e6, 0.01e6, 0.002e6)};
}
/// Stiffens so late that the free disc still has a limit pressure.
NamedLaw late_yeoh() {
  return {"late-yeoh", "kind = \"yeoh\"\nc10 = \"0.15 MPa\"\nc20 = \"-0.001 MPa\"\nc30 = \"0.00002 MPa\"\n",
          reference::yeoh(0.15e6, -0.001e6, 0.00002e6)};
}
/// The constants of Ogden, Proc. R. Soc. A 326 (1972) 565, for the rubber of Treloar (from memory).
NamedLaw ogden() {
  return {"ogden", "kind = \"ogden\"\nmu = [\"0.63 MPa\", \"0.0012 MPa\", \"-0.01 MPa\"]\nalpha = [1.3, 5.0, -2.0]\n",
          reference::ogden({{0.63e6, 1.3}, {0.0012e6, 5.0}, {-0.01e6, -2.0}})};
}

reference::ClampedDisc disc_of(const NamedLaw& law) { return {law.law, kRadius_m, kThickness_m}; }

/// Element, law and drive; everything else is left to the defaults.
struct CaseText {
  std::string title;
  double height_m;
  double element_m;
  std::string outline = fmt::format("{{ disc = \"{} mm\" }}", 2e3 * kRadius_m);
  std::string law;
  std::string mould;  ///< friction; empty: no mould
  std::string drive;
  std::string text() const {
    std::string out =
        fmt::format("title = \"{}\"\n\n[sheet]\nthickness = \"{} mm\"\noutline = {}\nheight = \"{:.9g} mm\"\n", title,
                    1e3 * kThickness_m, outline, 1e3 * height_m);
    out += fmt::format("element = \"{:.9g} mm\"\ndensity = \"1200 kg/m^3\"\n\n[sheet.law]\n{}\n", 1e3 * element_m, law);
    if (!mould.empty())
      out += fmt::format("[mould]\nsurface = \"mould.stl\"\nunit = \"mm\"\nplatform = false\nfriction = {}\n\n", mould);
    out += fmt::format("[[forming.stage]]\nname = \"form\"\nduration = \"1 s\"\n{}\n", drive);
    // The closed forms know of no air below.
    return mould.empty() ? out : out + "\n[numerics]\ntrapped_air = false\n";
  }
};

std::string by_pressure(double pressure_Pa) { return fmt::format("pressure = \"{:.9g} Pa\"", pressure_Pa); }
std::string by_volume(double volume_m3) { return fmt::format("volume = \"{:.9g} mL\"", 1e6 * volume_m3); }

Check number(std::string name, std::string source, std::string unit, double expected, double found, double allowed) {
  return {std::move(name), std::move(source), std::move(unit), expected, found, found / expected - 1.0, allowed};
}

/// Errors of a field over its nodes.
class FieldError {
 public:
  void add(double found, double expected) {
    const double e = found / expected - 1.0;
    ++nodes_, square_ += e * e, largest_ = std::max(largest_, std::fabs(e));
  }
  void report(const std::string& name, const std::string& source, double rms, double largest,
              std::vector<Check>& checks) const {
    ensure(nodes_ >= 20, "a field is compared at 20 nodes or more");
    checks.push_back({name + ", rms", source, "-", {}, {}, std::sqrt(square_ / nodes_), rms});
    checks.push_back({name + ", largest", source, "-", {}, {}, largest_, largest});
  }

 private:
  int nodes_ = 0;
  double square_ = 0.0, largest_ = 0.0;
};

double deepest_m(const Outcome& o) {
  double deepest = 0.0;
  for (const Vec3& p : o.points_m) deepest = std::max(deepest, o.clamp_m - p.z());
  return deepest;
}

/// Node thickness against the meridian at the node's flat radius, away from the contact lines by two elements.
FieldError thickness_error(const Outcome& o, const Meridian& m, double element_m) {
  const std::vector<double> lines_m = m.contact_lines_m();
  FieldError error;
  for (std::size_t i = 0; i < o.flat_m.size(); ++i) {
    const double flat_m = o.flat_m[i].norm();
    const bool at_line = std::any_of(lines_m.begin(), lines_m.end(),
                                     [&](double line_m) { return std::fabs(flat_m - line_m) < 2.0 * element_m; });
    if (!at_line) error.add(o.thickness_m[i] / kThickness_m, m.at(flat_m).thickness());
  }
  return error;
}

const char* const kMembrane = "boundary-value solution of the membrane of revolution (solver/reference)";

/// Volume drive; with a limit pressure on the way, that too.
Problem free_disc(const NamedLaw& law, double pole_stretch, bool limit, bool quick, double element_m) {
  const auto m = std::make_shared<Meridian>(reference::inflated_disc(disc_of(law), pole_stretch));
  std::optional<double> limit_Pa;
  if (limit) limit_Pa = reference::disc_at_limit(disc_of(law)).pressure_Pa;
  Problem p;
  p.name = "free-disc-" + law.name;
  p.title = fmt::format("Free disc, {}, stretch {} at the pole", law.name, pole_stretch);
  p.quick = quick;
  CaseText text{.title = p.title,
                .height_m = 2.0 * m->height_m,
                .element_m = element_m,
                .law = law.toml,
                .mould = {},
                .drive = by_volume(m->volume_m3)};
  p.case_text = text.text();
  p.judge = [m, limit_Pa, element_m](const Outcome& o) {
    std::vector<Check> checks{
        number("height", kMembrane, "mm", 1e3 * m->height_m, 1e3 * deepest_m(o), kHeight),
        number("pressure", kMembrane, "kPa", 1e-3 * m->pressure_Pa, 1e-3 * o.pressure_Pa, kPressure)};
    thickness_error(o, *m, element_m).report("thickness", kMembrane, kFreeRms, kFreeLargest, checks);
    if (limit_Pa) {
      double highest_Pa = 0.0;
      for (const forming::HistoryRow& row : o.history) highest_Pa = std::max(highest_Pa, row.pressure_Pa);
      checks.push_back(number("limit pressure", kMembrane, "kPa", 1e-3 * *limit_Pa, 1e-3 * highest_Pa, kPressure));
    }
    return checks;
  };
  return p;
}

/// Flat sheet under so little that it hardly bulges.
Problem small_load(double element_m) {
  constexpr double kModulus_Pa = 0.3e6, kLoad_Pa = 5.0;
  const double factor = reference::small_load_height_factor();
  // Young's modulus of an incompressible solid is three times its shear modulus.
  const double height_m = factor * kRadius_m * std::cbrt(kLoad_Pa * kRadius_m / (3.0 * kModulus_Pa * kThickness_m));
  Problem p;
  p.name = "small-load";
  p.title = "Free disc under a small load";
  p.quick = false;
  CaseText text{.title = p.title,
                .height_m = 0.01,
                .element_m = element_m,
                .law = neo_hookean().toml,
                .mould = {},
                .drive = by_pressure(kLoad_Pa)};
  p.case_text = text.text();
  p.judge = [height_m](const Outcome& o) {
    // The series is of the first order in the squared slope, here (h/a)^2 = 0.1 %: its own error is of that order.
    return std::vector<Check>{
        number("height", "series of Hencky, Z. Math. Phys. 63 (1915) 311, as in NASA TP-3658 (1997), nu = 1/2", "mm",
               1e3 * height_m, 1e3 * deepest_m(o), kPressure)};
  };
  return p;
}

/// Pressed into or over a round mould.
Problem round_mould(std::string name, std::string title, const NamedLaw& law, bool sticks, bool quick, double element_m,
                    double height_m, mesh::TriangleMesh mould, Meridian solution) {
  const auto m = std::make_shared<Meridian>(std::move(solution));
  Problem p;
  p.name = std::move(name) + "-" + law.name;
  p.title = std::move(title) + ", " + law.name;
  p.quick = quick;
  p.mould = std::move(mould);
  CaseText text{.title = p.title,
                .height_m = height_m,
                .element_m = element_m,
                .law = law.toml,
                .mould = sticks ? "\"stick\"" : "0",
                .drive = by_pressure(m->pressure_Pa)};
  p.case_text = text.text();
  p.judge = [m, sticks, element_m](const Outcome& o) {
    std::vector<Check> checks{
        number("swept volume", kMembrane, "mL", 1e6 * m->volume_m3, 1e6 * o.swept_volume_m3, kDepth)};
    if (m->height_m > 1e-6)
      checks.push_back(number("depth", kMembrane, "mm", 1e3 * m->height_m, 1e3 * deepest_m(o), kDepth));
    thickness_error(o, *m, element_m)
        .report("thickness", kMembrane, sticks ? kStickRms : kSlideRms, sticks ? kStickLargest : kSlideLargest, checks);
    return checks;
  };
  return p;
}

constexpr double kOuter_m = 0.07, kFloor = 1.0 + mesh::kCavityFloor;

Problem cone(const NamedLaw& law, double degrees, double pressure_Pa, bool sticks, bool quick, double element_m) {
  const double angle = degrees * std::numbers::pi / 180.0, top_m = kFloor * kRadius_m * std::tan(angle);
  const auto disc = disc_of(law);
  return round_mould(fmt::format("{}-cone-{}", sticks ? "sticking" : "sliding", degrees),
                     fmt::format("{} in a cone of {} degrees", sticks ? "Sticking" : "Sliding", degrees), law, sticks,
                     quick, element_m, top_m, mesh::cone_cup(kRadius_m, angle, top_m, kOuter_m, kFlats),
                     sticks ? reference::in_sticking_cone(disc, angle, pressure_Pa)
                            : reference::in_sliding_cone_at(disc, angle, pressure_Pa));
}

Problem cylinder(const NamedLaw& law, double pressure_Pa, bool quick, double element_m) {
  Meridian m = reference::in_sticking_cone(disc_of(law), 0.5 * std::numbers::pi, pressure_Pa);
  const double depth_m = m.height_m + 0.25 * kRadius_m, top_m = kFloor * depth_m;
  return round_mould("sticking-cylinder", "Sticking in a cylinder, above its floor", law, true, quick, element_m, top_m,
                     mesh::cup(kRadius_m, depth_m, top_m, kOuter_m, kFlats, 8), std::move(m));
}

Problem cup(const NamedLaw& law, double depth_m, double pressure_Pa, bool quick, double element_m) {
  const double top_m = kFloor * depth_m;
  return round_mould("sliding-cup", "Sliding in a cup, pressed on its floor", law, false, quick, element_m, top_m,
                     mesh::cup(kRadius_m, depth_m, top_m, kOuter_m, kFlats, 8),
                     reference::in_sliding_cup(disc_of(law), depth_m, pressure_Pa));
}

Problem sphere(const NamedLaw& law, double pressure_Pa, bool sticks, bool quick, double element_m) {
  const double ball_m = 0.5 * kRadius_m, top_m = 3.0 * ball_m;
  const auto disc = disc_of(law);
  return round_mould(sticks ? "sticking-sphere" : "sliding-sphere",
                     fmt::format("{} over a sphere of half the sheet's radius", sticks ? "Sticking" : "Sliding"), law,
                     sticks, quick, element_m, top_m, mesh::sphere({0.0, 0.0, top_m - ball_m}, ball_m, 5),
                     sticks ? reference::over_sticking_sphere(disc, ball_m, pressure_Pa)
                            : reference::over_sliding_sphere(disc, ball_m, pressure_Pa));
}

/// Long pocket of vertical walls, the sheet sticking. Sixteen widths long, so that its ends do not reach the middle; a
/// third of the elements on the half width that a round mould has on its radius, for the sake of time. A law that
/// stiffens: a long neo-Hookean bubble would bulge at one place.
Problem trench(double element_m) {
  constexpr double kHalf_m = 0.01, kLength_m = 0.32, kDepth_m = 0.02;
  const double across_m = std::min(0.6 * element_m, 0.2 * kHalf_m), top_m = kFloor * kDepth_m;
  const NamedLaw law{"yeoh", "kind = \"yeoh\"\nc10 = \"0.15 MPa\"\nc20 = \"0.03 MPa\"\nc30 = \"0 MPa\"\n", {}};
  Problem p;
  p.name = "sticking-trench-" + law.name;
  p.title = "Sticking in a long trench, yeoh";
  p.quick = false;
  p.mould = mesh::pocket(kHalf_m, 0.5 * kLength_m, kDepth_m, top_m, 0.02);
  CaseText text{.title = p.title,
                .height_m = top_m,
                .element_m = across_m,
                .outline = fmt::format("{{ rectangle = [\"{} mm\", \"{} mm\"] }}", 2e3 * kHalf_m, 1e3 * kLength_m),
                .law = law.toml,
                .mould = "\"stick\"",
                .drive = by_pressure(4e5)};
  p.case_text = text.text();
  p.judge = [across_m](const Outcome& o) {
    FieldError error;
    for (std::size_t i = 0; i < o.points_m.size(); ++i) {
      const Vec3& x = o.points_m[i];
      const double depth_m = o.clamp_m - x.z();
      const bool on_wall = std::fabs(std::fabs(x.x()) - kHalf_m) < 1e-4 * kHalf_m && std::fabs(x.y()) < kHalf_m;
      // Not the opening, a contact line, nor the floor's corner, which fills last.
      if (!on_wall || depth_m < 2.0 * across_m || depth_m > 0.9 * kHalf_m) continue;
      error.add(o.thickness_m[i] / kThickness_m, reference::trench_wall(depth_m / kHalf_m));
    }
    std::vector<Check> checks;
    error.report("wall", "closed form, exact for any law (solver/reference/sticking.h)", kStickRms, kStickLargest,
                 checks);
    return checks;
  };
  return p;
}

}  // namespace

std::vector<Problem> problems(double elements_on_radius) {
  const double e = kRadius_m / elements_on_radius;
  std::vector<Problem> all;
  all.push_back(free_disc(neo_hookean(), 3.0, true, true, e));
  all.push_back(free_disc(mooney_rivlin(), 2.0, false, false, e));
  all.push_back(free_disc(late_yeoh(), 3.0, true, false, e));
  all.push_back(free_disc(ogden(), 2.5, true, false, e));
  all.push_back(small_load(e));
  all.push_back(cone(neo_hookean(), 45.0, 3e4, false, false, e));
  all.push_back(cone(ogden(), 60.0, 3e4, false, false, e));
  all.push_back(cup(yeoh(), kRadius_m, 3e4, false, e));
  all.push_back(sphere(neo_hookean(), 6e3, false, false, e));
  all.push_back(cone(neo_hookean(), 45.0, 3e4, true, false, e));
  all.push_back(cone(yeoh(), 60.0, 3e4, true, false, e));
  all.push_back(cylinder(mooney_rivlin(), 3e4, false, e));
  all.push_back(sphere(neo_hookean(), 6e3, true, true, e));
  all.push_back(trench(e));
  return all;
}

}  // namespace pellicle::verify
