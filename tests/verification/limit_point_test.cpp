// Does the sheet pass its limit pressure as it should? By volume, by gas, and thrown by a pressure that it cannot bear.
#include "mesh/shapes.h"
#include "solver/reference/round_mould.h"
#include "solver/run.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <string>

namespace pellicle {
namespace {

constexpr double kRadius_m = 0.05, kThickness_m = 1e-3;

struct Sample {
  const char* name;
  sheet::Polymer solver;
  reference::Law law;
};
// Laws whose free disc has a limit; of Yeoh one that stiffens late. Ogden's constants: Proc. R. Soc. A 326 (1972) 565
// (from memory).
std::vector<Sample> samples() {
  sheet::Ogden ogden{};
  ogden.terms = 3;
  ogden.mu_Pa = {0.63e6, 0.0012e6, -0.01e6};
  ogden.alpha = {1.3, 5.0, -2.0};
  return {{"neo-Hookean", sheet::NeoHookean{0.3e6}, reference::neo_hookean(0.3e6)},
          {"Yeoh", sheet::Yeoh{0.15e6, -1e3, 20.0}, reference::yeoh(0.15e6, -1e3, 20.0)},
          {"Ogden", ogden, reference::ogden({{0.63e6, 1.3}, {0.0012e6, 5.0}, {-0.01e6, -2.0}})}};
}

Case disc_case(const sheet::Polymer& law, double element_m) {
  Case c;
  c.sheet.law = law;
  c.sheet.density_kg_m3 = 1200.0;
  c.sheet.thickness_m = kThickness_m;
  c.sheet.outline = {mesh::Disc{2.0 * kRadius_m}, {0.0, 0.0}};
  c.sheet.height_m = 0.2;
  c.sheet.element_m = c.sheet.rim_element_m = element_m;
  c.sheet.temperature_K = 400.0;
  c.numerics.frames = 1;
  c.numerics.trapped_air = false;  // what is known of these moulds knows no air
  c.numerics.threads = 1;
  return c;
}

struct Path {
  CaseResult result;
  double highest_Pa = 0.0, highest_at_m3 = 0.0, last_Pa = 0.0, loudest = 0.0;
  std::vector<mesh::Vec2> flat_m;
  std::vector<double> thickness_m;
};
Path follow(const Case& c, const Geometry& geometry) {
  Path path;
  forming::Sinks sinks;
  sinks.history = [&](const forming::HistoryRow& row) {
    path.last_Pa = row.pressure_Pa;
    if (row.pressure_Pa > path.highest_Pa) path.highest_Pa = row.pressure_Pa, path.highest_at_m3 = row.swept_volume_m3;
    if (row.strain_J > 0.0) path.loudest = std::max(path.loudest, row.kinetic_J / row.strain_J);
  };
  sinks.frame = [&](const forming::Frame& frame) {
    path.flat_m.assign(frame.flat_m.begin(), frame.flat_m.end());
    path.thickness_m.assign(frame.thickness_m.begin(), frame.thickness_m.end());
  };
  path.result = run(c, geometry, sinks);
  EXPECT_EQ(path.result.ending, Ending::kDone);
  EXPECT_LT(path.result.worst_balance, 0.005);
  return path;
}

bool warns(const CaseResult& r, const std::string& words) {
  return std::any_of(r.warnings.begin(), r.warnings.end(),
                     [&](const std::string& w) { return w.find(words) != std::string::npos; });
}

// 16 elements on the radius: mesh 0.5 %, pace and damping at the fastest of the travel 0.3 %. The volume at the limit
// is that of a flat top and not sharp: 10 %.
TEST(LimitPoint, VolumeDriveFindsTheLimitOfEveryLaw) {
  int checked = 0;
  for (const Sample& s : samples()) {
    const auto limit = reference::disc_at_limit({s.law, kRadius_m, kThickness_m});
    Case c = disc_case(s.solver, kRadius_m / 16.0);
    c.stages = {{"blow", 1.0, VolumeDrive{1.8 * limit.volume_m3}, {}}};
    const Path path = follow(c, {});
    EXPECT_NEAR(path.highest_Pa, limit.pressure_Pa, 0.01 * limit.pressure_Pa) << s.name;
    EXPECT_NEAR(path.highest_at_m3, limit.volume_m3, 0.1 * limit.volume_m3) << s.name;
    EXPECT_LT(path.last_Pa, 0.99 * path.highest_Pa) << s.name << ": not on the falling branch";
    EXPECT_TRUE(warns(path.result, "passed a limit pressure")) << s.name;
    ++checked;
  }
  EXPECT_EQ(checked, 3);
}

// Gas that could press harder than the free sheet bears. At the pace of a travel mass damping raises the pressure by
// up to 1 %, the mesh by 0.5 %.
TEST(LimitPoint, GasDriveFindsTheLimitOfEveryLaw) {
  int checked = 0;
  for (const Sample& s : samples()) {
    const auto limit = reference::disc_at_limit({s.law, kRadius_m, kThickness_m});
    Case c = disc_case(s.solver, kRadius_m / 16.0);
    c.stages = {{"gas", 1.0, GasDrive{.supply_Pa = 0.4e5, .orifice_m = 3e-3, .chamber_m3 = 0.3e-3}, {}}};
    const Path path = follow(c, {});
    EXPECT_NEAR(path.highest_Pa, limit.pressure_Pa, 0.02 * limit.pressure_Pa) << s.name;
    EXPECT_LT(path.last_Pa, 0.995 * path.highest_Pa) << s.name << ": not on the falling branch";
    EXPECT_TRUE(warns(path.result, "passed a limit pressure")) << s.name;
    ++checked;
  }
  EXPECT_EQ(checked, 3);
}

/// Frictionless cone, whose settled state does not depend on the way there.
constexpr double kAngle = std::numbers::pi / 4.0, kPressed_Pa = 4e4;
Path thrown_into_cone(Pace pace) {
  const double top_m = 1.25 * kRadius_m;
  Case c = disc_case(sheet::NeoHookean{0.3e6}, kRadius_m / 16.0);
  c.sheet.height_m = top_m;
  c.mould = MouldSpec{.platform = false, .friction = {.stick = false, .coefficient = 0.0}};
  c.numerics.pace = pace;
  c.stages = {{"press", 0.2, PressureDrive{kPressed_Pa}, {}}, {"hold", 0.2, PressureDrive{kPressed_Pa}, {}}};
  return follow(c, {.mould = mesh::cone_cup(kRadius_m, kAngle, top_m, 0.07, 120)});
}

// A prescribed pressure past the limit. In real pace the sheet is thrown and the summary says when, at what pressure
// and how fast; in quasi-static pace it is held back and stays quiet. Both settle on the one state there is.
TEST(LimitPoint, PressureDriveSnapsAndSettlesOnTheRightState) {
  const auto settled =
      reference::in_sliding_cone_at({reference::neo_hookean(0.3e6), kRadius_m, kThickness_m}, kAngle, kPressed_Pa);
  const double line_m = settled.contact_lines_m().at(0);
  for (const Pace pace : {Pace::kQuasiStatic, Pace::kReal}) {
    const Path path = thrown_into_cone(pace);
    double square = 0.0;
    int nodes = 0;
    for (std::size_t i = 0; i < path.flat_m.size(); ++i) {
      const double flat_m = path.flat_m[i].norm();
      if (std::fabs(flat_m - line_m) < 2.0 * kRadius_m / 16.0) continue;
      square += std::pow(path.thickness_m[i] / kThickness_m / settled.at(flat_m).thickness() - 1.0, 2.0);
      ++nodes;
    }
    ASSERT_GT(nodes, 300);
    EXPECT_LT(std::sqrt(square / nodes), 0.005) << "of the frictionless mould, docs/verification.md";
    const forming::StageReport& press = path.result.stages.front();
    if (pace == Pace::kReal) {
      EXPECT_GT(path.loudest, 0.03) << "not thrown";
    } else {
      EXPECT_LT(press.kinetic_share, 0.03);
    }
  }
}

// A deep, wide cup that is met after the limit, so that there is one to be told.
TEST(LimitPoint, SnapIsToldWithTimePressureAndSpeed) {
  const double depth_m = 1.6 * kRadius_m, top_m = 1.25 * depth_m;
  const auto limit = reference::disc_at_limit({reference::neo_hookean(0.3e6), kRadius_m, kThickness_m});
  for (const Pace pace : {Pace::kQuasiStatic, Pace::kReal}) {
    Case c = disc_case(sheet::NeoHookean{0.3e6}, kRadius_m / 16.0);
    c.sheet.height_m = top_m;
    c.mould = MouldSpec{.platform = false, .friction = {.stick = true, .coefficient = 0.0}};
    c.numerics.pace = pace;
    c.stages = {{"press", 0.5, PressureDrive{2e4}, {}}};
    // An opening 1.6 times as wide as the clamp, so that the free bubble passes its limit before it meets a wall.
    const Path path = follow(c, {.mould = mesh::cup(1.6 * kRadius_m, depth_m, top_m, 0.1, 90, 6)});
    const forming::StageReport& press = path.result.stages.front();
    ASSERT_FALSE(std::isnan(press.peak_Pa)) << "the summary does not tell of the limit";
    // A thrown sheet passes the limit ahead of the slow branch's pressure by its inertia: 10 %.
    EXPECT_NEAR(press.peak_Pa, limit.pressure_Pa, (pace == Pace::kReal ? 0.1 : 0.02) * limit.pressure_Pa);
    EXPECT_GT(press.fastest_m3_s, 0.0);
    EXPECT_TRUE(warns(path.result, pace == Pace::kReal ? "the sheet snapped on, at up to" : "a real sheet would snap"));
  }
}

}  // namespace
}  // namespace pellicle
