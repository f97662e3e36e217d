// Does friction do what it does in the textbook? A block on an incline, a belt on a cylinder, a sheet over an edge.
#include "mesh/shapes.h"
#include "mesh/sheet_mesher.h"
#include "solver/forming/contact.h"
#include "solver/forming/forming.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <vector>

namespace pellicle {
namespace {

using mesh::Vec3;

// A point mass let go on a plane of slope t slides with g (sin t - c cos t), or stays where c > tan t.
TEST(Friction, BlockOnAnIncline) {
  constexpr double kGravity_m_s2 = 10.0, kDt_s = 1e-4;
  constexpr int kSteps = 1000;
  SheetSpec sheet{};
  sheet.thickness_m = sheet.element_m = 1e-3;
  const forming::ContactScale scale = forming::contact_scale(sheet);
  int slid = 0, stayed = 0;
  for (const double slope : {0.2, 0.5, 0.9})
    for (const double coefficient : {0.0, 0.1, 0.3, 0.6, 2.0}) {
      const Vec3 normal{std::sin(slope), 0.0, std::cos(slope)}, down{std::cos(slope), 0.0, -std::sin(slope)};
      Vec3 x = Vec3::Zero(), v = Vec3::Zero();
      forming::Touch touch{.first_s = std::nan("")};
      for (int step = 0; step < kSteps; ++step) {
        mould::Planes planes;
        planes.add({normal, normal.dot(x)});
        const Vec3 wanted = v + kDt_s * Vec3(0.0, 0.0, -kGravity_m_s2);
        v = forming::meet({false, coefficient}, scale, planes, x, wanted, kDt_s, step * kDt_s, touch).v_m_s;
        x += kDt_s * v;
      }
      const double pull = std::sin(slope) - coefficient * std::cos(slope);
      const double expected_m_s = std::max(0.0, pull) * kGravity_m_s2 * kDt_s * kSteps;
      EXPECT_NEAR(v.dot(down), expected_m_s, 1e-10) << slope << " " << coefficient;  // a thousand round-offs
      EXPECT_NEAR(normal.dot(x), 0.0, 1e-12);
      pull > 0.0 ? ++slid : ++stayed;
    }
  EXPECT_GT(slid, 5);
  EXPECT_GT(stayed, 3);
}

constexpr double kShear_Pa = 0.3e6, kThickness_m = 1e-3;
constexpr double kHalfWidth_m = 20e-3, kHalfLength_m = 70e-3;

/// A strip 40 mm wide, drawn down over a mould 100 mm long by its frame, 140 mm long: in its middle
/// nothing changes along y, and only friction holds it.
forming::FormingResult drawn_down(const mesh::TriangleMesh& mould_mesh, double friction, double from_m, double to_m,
                                  double element_m, double fine_m) {
  FormingSpec spec;
  spec.sheet.law = sheet::NeoHookean{kShear_Pa};
  spec.sheet.density_kg_m3 = 1200.0;
  spec.sheet.thickness_m = kThickness_m;
  spec.sheet.outline = {mesh::RoundedRectangle{2.0 * kHalfWidth_m, 2.0 * kHalfLength_m, 0.0}, {0.0, 0.0}};
  spec.sheet.height_m = from_m;
  spec.sheet.element_m = spec.sheet.rim_element_m = element_m;
  spec.sheet.fine_element_m = fine_m;
  spec.friction = {.stick = false, .coefficient = friction};
  spec.numerics.frames = 1;
  spec.stages = {{"lower", 1.0, PressureDrive{0.0}, to_m}};
  const mould::RigidMould rigid(mould_mesh, false);
  forming::Forming forming(spec, rigid, mesh::mesh_sheet(spec.sheet.outline, {element_m, element_m, {}}));
  EXPECT_TRUE(forming.run({}));
  EXPECT_LT(forming.worst_balance(), 0.02);
  return forming.result();
}

/// Along x, per width, of a neo-Hookean sheet: h0 mu (l1 - 1/(l1^3 l2^2)) / l2.
double tension_N_m(double l1, double l2) {
  return kThickness_m * kShear_Pa * (l1 - 1.0 / (l1 * l1 * l1 * l2 * l2)) / l2;
}

/// Mean tension of the middle of the strip, over nodes whose place passes.
template <class Passes>
double mean_tension_N_m(const forming::FormingResult& r, Passes&& passes) {
  double sum = 0.0, lowest = 2.0, highest = 0.0;
  int count = 0;
  for (std::size_t i = 0; i < r.points_m.size(); ++i) {
    if (r.on_rim[i] || std::fabs(r.flat_m[i].y()) > 6e-3 || !passes(r.points_m[i])) continue;
    sum += tension_N_m(r.stretch_1[i], r.stretch_2[i]);
    lowest = std::min(lowest, r.stretch_2[i]), highest = std::max(highest, r.stretch_2[i]);
    ++count;
  }
  EXPECT_LT(highest - lowest, 0.01);  // along y it is the same everywhere, so what counts is along x
  EXPECT_GT(count, 3);
  return sum / std::max(count, 1);
}

/// A cylinder along y.
mesh::TriangleMesh roller(double radius_m) {
  mesh::TriangleMesh m = mesh::cylinder(radius_m, -50e-3, 50e-3, 256);
  for (Vec3& p : m.points_m) p = {p.x(), -p.z(), p.y()};
  return m;
}

// Eytelwein: T = T0 exp(c phi) over the angle phi that the belt has turned, where it slides all along. It slides from
// the top outwards because it is stretched ever more.
TEST(Friction, BeltOnACylinder) {
  constexpr double kRadius_m = 10e-3;
  for (const double coefficient : {0.0, 0.2, 0.5}) {
    const forming::FormingResult r = drawn_down(roller(kRadius_m), coefficient, kRadius_m, -6e-3, 1e-3, 0.0);
    const auto angle = [](const Vec3& p) { return std::atan2(std::fabs(p.x()), p.z()); };
    // Tangent from the clamp edge to the circle: the angle at which the strip leaves.
    const double away = std::hypot(kHalfWidth_m, 6e-3);
    const double leaves = std::numbers::pi / 2 + std::atan2(6e-3, kHalfWidth_m) - std::acos(kRadius_m / away);
    ASSERT_GT(leaves, 0.7);
    const double top = mean_tension_N_m(r, [&](const Vec3& p) { return angle(p) < 0.12; });
    const double leg =
        mean_tension_N_m(r, [&](const Vec3& p) { return std::fabs(p.x()) > 14e-3 && std::fabs(p.x()) < 18e-3; });
    // The mean over the top band stands for half its angle. A node has two elements of 0.1 rad around it: 2 %.
    EXPECT_NEAR(leg / top, std::exp(coefficient * (leaves - 0.06)), 0.02 * leg / top) << coefficient;
    for (const double at : {0.3, 0.5, 0.7}) {
      const double here = mean_tension_N_m(r, [&](const Vec3& p) { return std::fabs(angle(p) - at) < 0.06; });
      EXPECT_NEAR(here / top, std::exp(coefficient * (at - 0.06)), 0.02 * here / top) << coefficient << " " << at;
    }
    RecordProperty("leg_over_top_" + std::to_string(coefficient), std::to_string(leg / top));
  }
}

/// A long block, 20 mm wide, its upper edges rounded.
mesh::TriangleMesh block(double edge_m) {
  constexpr int kSteps = 16;
  std::vector<mesh::Vec2> section{{-10e-3, -30e-3}, {10e-3, -30e-3}};
  for (const double side : {1.0, -1.0})
    for (int k = 0; k <= kSteps; ++k) {
      const double turn = 0.5 * std::numbers::pi * (side > 0.0 ? k : kSteps - k) / kSteps;
      section.push_back({side * (10e-3 - edge_m + edge_m * std::cos(turn)), -edge_m + edge_m * std::sin(turn)});
    }
  mesh::TriangleMesh m;
  const int n = static_cast<int>(section.size());
  for (const double y : {50e-3, -50e-3})
    for (const mesh::Vec2& p : section) m.points_m.push_back({p.x(), y, p.y()});
  for (int k = 0; k < n; ++k) {
    const int next = (k + 1) % n;
    m.triangles.push_back({k, next, n + k});
    m.triangles.push_back({next, n + next, n + k});
    if (k > 0 && next > 0) {
      m.triangles.push_back({0, next, k});
      m.triangles.push_back({n, n + k, n + next});
    }
  }
  return m;
}

// The same law at an edge: the angle counts, not the radius. The strip lies flat on a block and leaves over its edges.
TEST(Friction, SheetPulledOverAnEdge) {
  for (const double edge_m : {3e-3})
    for (const double coefficient : {0.0, 0.2, 0.5}) {
      const forming::FormingResult r = drawn_down(block(edge_m), coefficient, 0.0, -10e-3, 1e-3, 0.0);
      // An element turns by a third of a radian at once: 5 %.
      const double turned = std::atan2(10e-3, kHalfWidth_m - 10e-3);
      const double top = mean_tension_N_m(r, [](const Vec3& p) { return std::fabs(p.x()) < 6e-3; });
      const double leg =
          mean_tension_N_m(r, [](const Vec3& p) { return std::fabs(p.x()) > 13e-3 && std::fabs(p.x()) < 18e-3; });
      EXPECT_NEAR(leg / top, std::exp(coefficient * turned), 0.05 * leg / top) << coefficient << " " << edge_m;
      RecordProperty("leg_over_top_" + std::to_string(coefficient), std::to_string(leg / top));
    }
}

}  // namespace
}  // namespace pellicle
