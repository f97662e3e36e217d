// Does the sheet hold together at four times its length both ways? Pressed on the floor of a deep cup.
#include "mesh/shapes.h"
#include "mesh/sheet_mesher.h"
#include "solver/forming/forming.h"
#include "solver/reference/round_mould.h"

#include <gtest/gtest.h>

#include <Eigen/Geometry>

#include <cmath>
#include <string>

namespace pellicle {
namespace {

constexpr double kRadius_m = 0.05, kThickness_m = 1e-3, kElement_m = kRadius_m / 24.0, kPressure_Pa = 6e4;

struct Sample {
  std::string name;
  sheet::Polymer solver;
  reference::Law law;
  double depth_m;  ///< for a stretch of four and a little more at the floor
};
std::vector<Sample> samples() {
  sheet::Ogden ogden{};
  ogden.terms = 3;
  ogden.mu_Pa = {0.63e6, 0.0012e6, -0.01e6};  // Ogden, Proc. R. Soc. A 326 (1972) 565 (from memory)
  ogden.alpha = {1.3, 5.0, -2.0};
  return {{"Yeoh", sheet::Yeoh{0.15e6, 2e3, 50.0}, reference::yeoh(0.15e6, 2e3, 50.0), 2.55 * kRadius_m},
          {"Ogden", ogden, reference::ogden({{0.63e6, 1.3}, {0.0012e6, 5.0}, {-0.01e6, -2.0}}), 2.0 * kRadius_m}};
}

/// Smallest altitude of a triangle over the one it had in the flat sheet: above 1 where it is stretched both ways,
/// towards 0 where it collapses.
double smallest_altitude_kept(const forming::FormingResult& r) {
  double smallest = 1e9;
  for (const mesh::Triangle& t : r.triangles) {
    const auto corner = [&](int k) { return r.points_m[static_cast<std::size_t>(t[static_cast<std::size_t>(k)])]; };
    const auto flat = [&](int k) { return r.flat_m[static_cast<std::size_t>(t[static_cast<std::size_t>(k)])]; };
    double longest = 0.0, flat_longest = 0.0;
    for (int k = 0; k < 3; ++k) {
      longest = std::max(longest, (corner((k + 1) % 3) - corner(k)).norm());
      flat_longest = std::max(flat_longest, (flat((k + 1) % 3) - flat(k)).norm());
    }
    const double area = 0.5 * (corner(1) - corner(0)).cross(corner(2) - corner(0)).norm();
    const mesh::Vec2 d1 = flat(1) - flat(0), d2 = flat(2) - flat(0);
    const double flat_area = 0.5 * std::fabs(d1.x() * d2.y() - d1.y() * d2.x());
    smallest = std::min(smallest, (area / longest) / (flat_area / flat_longest));
  }
  return smallest;
}

// Without friction the answer is known whatever the way: 24 elements on the radius, four times as long when they
// arrive, leave 2 % of thickness; away from the contact lines by two elements.
TEST(LargeStretch, FourTimesBothWaysInADeepCup) {
  int checked = 0;
  for (const Sample& s : samples()) {
    const auto exact = reference::in_sliding_cup({s.law, kRadius_m, kThickness_m}, s.depth_m, kPressure_Pa);
    ASSERT_GT(exact.pole_stretch, 4.0) << s.name;
    FormingSpec spec;
    spec.sheet.law = s.solver;
    spec.sheet.density_kg_m3 = 1200.0;
    spec.sheet.thickness_m = kThickness_m;
    spec.sheet.outline = {mesh::Disc{2.0 * kRadius_m}, {0.0, 0.0}};
    spec.sheet.height_m = 0.0;
    spec.sheet.element_m = spec.sheet.rim_element_m = kElement_m;
    spec.friction = {.stick = false, .coefficient = 0.0};
    spec.stages = {{"press", 1.0, PressureDrive{kPressure_Pa}, {}}};
    spec.numerics.frames = 1;
    const mould::RigidMould rigid(mesh::cup(kRadius_m, s.depth_m, 0.0, 0.07, 180, 16), false);
    forming::Forming forming(spec, rigid, mesh::mesh_sheet(spec.sheet.outline, {kElement_m, kElement_m, {}}));
    ASSERT_TRUE(forming.run({})) << s.name;
    EXPECT_TRUE(forming.stages().back().reached) << s.name;
    // No drift: what is left over after some 10^4 steps is a hundred-thousandth of the work.
    EXPECT_LT(forming.worst_balance(), 1e-4) << s.name;

    const forming::FormingResult r = forming.result();
    const std::vector<double> lines_m = exact.contact_lines_m();
    double square = 0.0, pole = 0.0, even = 1e9;
    int nodes = 0;
    for (std::size_t i = 0; i < r.flat_m.size(); ++i) {
      const double flat_m = r.flat_m[i].norm();
      if (flat_m < 0.1 * kRadius_m)
        pole = std::max(pole, r.stretch_2[i]), even = std::min(even, r.stretch_2[i] / r.stretch_1[i]);
      bool at_line = false;
      for (const double line_m : lines_m) at_line = at_line || std::fabs(flat_m - line_m) < 2.0 * kElement_m;
      if (at_line) continue;
      square += std::pow(r.thickness_m[i] / kThickness_m / exact.at(flat_m).thickness() - 1.0, 2.0);
      ++nodes;
    }
    ASSERT_GT(nodes, 1000);
    EXPECT_GT(pole, 3.95) << s.name;
    EXPECT_NEAR(pole, exact.pole_stretch, 0.01 * exact.pole_stretch) << s.name;
    EXPECT_GT(even, 0.99) << s.name << ": stretched alike both ways";
    EXPECT_LT(std::sqrt(square / nodes), 0.02) << s.name;
    EXPECT_GT(smallest_altitude_kept(r), 0.5) << s.name << ": a triangle has collapsed";
    RecordProperty(s.name + " balance", std::to_string(1e6 * forming.worst_balance()) + "e-6");
    RecordProperty(s.name + " rms", std::to_string(std::sqrt(square / nodes)));
    RecordProperty(s.name + " pole", std::to_string(pole));
    RecordProperty(s.name + " altitude", std::to_string(smallest_altitude_kept(r)));
    ++checked;
  }
  EXPECT_EQ(checked, 2);
}

}  // namespace
}  // namespace pellicle
