// Does the sheet fold where tension-field theory says? Boundaries moved by hand, the rest brought to rest.
//
// Theory: a folded membrane pulls along one direction only, with the energy W(l, l^-1/2) (Pipkin, IMA J. Appl. Math. 36
// (1986) 85); without load its lines of tension are straight (Reissner, 1938; Stein and Hedgepeth, NASA TN D-813, 1961;
// all from memory). Where the sheet is round that leaves an ordinary differential equation, solved in solver/reference
// with laws of its own.
#include "mesh/sheet_mesher.h"
#include "solver/reference/law.h"
#include "solver/reference/meridian_walk.h"
#include "solver/sheet/membrane.h"

#include <gtest/gtest.h>

#include <Eigen/Geometry>
#include <cmath>
#include <numbers>
#include <string>
#include <vector>

namespace pellicle {
namespace {

using mesh::Vec2;
using mesh::Vec3;

constexpr double kThickness_m = 1e-3, kDensity = 1200.0;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// Damped motion of the nodes that are not held, until nothing moves to speak of. Returns the largest force left on a
/// free node over the largest there is.
double bring_to_rest(const sheet::Polymer& law, sheet::SheetState& s, const std::vector<char>& held, int steps) {
  const double c = 2.0 * std::sqrt(sheet::small_strain_shear_modulus_Pa(law) / kDensity);
  double width = 0.0;
  for (const Vec2& p : s.flat_m) width = std::max(width, p.norm());
  const double damping = 0.5 * c / width;
  double dt = 0.0;
  for (int k = 0; k < steps; ++k) {
    if (k % 20 == 0) dt = 0.5 * sheet::highest_frequency(law, s, kDensity, 0.0).stable_step_s();
    sheet::membrane_forces(law, s);
    for (int i = 0; i < s.nodes(); ++i) {
      if (held[at(i)]) continue;
      Vec3& v = s.v_m_s[at(i)];
      v = ((1.0 - 0.5 * damping * dt) * v + dt / s.mass_kg[at(i)] * s.force_N[at(i)]) / (1.0 + 0.5 * damping * dt);
      s.x_m[at(i)] += dt * v;
    }
    std::fill(s.moved.begin(), s.moved.end(), 1);
  }
  sheet::membrane_forces(law, s);
  double left = 0.0, most = 0.0;
  for (int i = 0; i < s.nodes(); ++i) {
    (held[at(i)] ? most : left) = std::max(held[at(i)] ? most : left, s.force_N[at(i)].norm());
  }
  return left / most;
}

/// Rings of triangles between two radii.
mesh::SheetMesh annulus_mesh(double inner_m, double outer_m, int rings, int around) {
  mesh::SheetMesh m{};
  for (int r = 0; r <= rings; ++r)
    for (int k = 0; k < around; ++k) {
      const double R = inner_m + (outer_m - inner_m) * r / rings;
      const double angle = 2.0 * std::numbers::pi * (k + 0.5 * (r % 2)) / around;
      m.flat_m.emplace_back(R * std::cos(angle), R * std::sin(angle));
      m.on_rim.push_back(r == 0 || r == rings);
    }
  for (int r = 0; r < rings; ++r)
    for (int k = 0; k < around; ++k) {
      const int next = (k + 1) % around, lower = r * around, upper = lower + around;
      const int a = lower + k, b = lower + next, c = upper + k, d = upper + next;
      if (r % 2 == 0)
        m.triangles.insert(m.triangles.end(), {{a, c, b}, {b, c, d}});
      else
        m.triangles.insert(m.triangles.end(), {{a, c, d}, {a, d, b}});
    }
  return m;
}

struct Sample {
  std::string name;
  sheet::Polymer solver;
  reference::Law law;
};
std::vector<Sample> samples() {
  return {{"neo-Hookean", sheet::NeoHookean{0.3e6}, reference::neo_hookean(0.3e6)},
          {"Yeoh", sheet::Yeoh{0.15e6, 0.02e6, 0.001e6}, reference::yeoh(0.15e6, 0.02e6, 0.001e6)}};
}

constexpr double kInner_m = 0.02, kOuter_m = 0.05, kDrawnIn = 0.75;

/// Flat ring whose inner edge is drawn in: tension field inside, taut outside. Stretch along the radius and radius now
/// over the flat radius.
struct Ring {
  std::vector<reference::MeridianPoint> points;
  double folded_to_m;
  double pull_N;  ///< on the whole inner edge
};
Ring ring_solution(const reference::Law& law) {
  const reference::Law field = reference::tension_field(law);
  const auto never = [](double, const reference::Row&) { return 1.0; };
  const reference::Span flat{0.0, 0.0};
  const auto outer_miss = [&](double l1, std::vector<reference::MeridianPoint>* points) {
    const reference::Row start{kDrawnIn * kInner_m, 0.0, 0.0, l1, 0.0, 0.0};
    return reference::walk(field, flat, kInner_m, start, kOuter_m, never, 1e-4, points).y[reference::kR] - kOuter_m;
  };
  double low = 1.01, high = 3.0;
  for (int i = 0; i < 60; ++i) {
    const double middle = 0.5 * (low + high);
    (outer_miss(middle, nullptr) < 0.0 ? low : high) = middle;
  }
  Ring ring{};
  outer_miss(high, &ring.points);
  for (const auto& p : ring.points)
    if (p.l2 < 1.0 / std::sqrt(p.l1)) ring.folded_to_m = p.flat_m;
  ring.pull_N = 2.0 * std::numbers::pi * kInner_m * kThickness_m * field(high, kDrawnIn).w1_Pa;
  return ring;
}
reference::MeridianPoint point_at(const Ring& ring, double flat_m) {
  reference::Meridian m{};
  m.points = ring.points;
  return m.at(flat_m);
}

struct RingErrors {
  double pull, stretch_rms, wrinkle_largest, folded_to_m;
};
RingErrors ring_errors(const Sample& s, int rings, int steps) {
  const Ring exact = ring_solution(s.law);
  const mesh::SheetMesh m = annulus_mesh(kInner_m, kOuter_m, rings, 6 * rings);
  sheet::SheetState state = sheet::flat_sheet(m, kThickness_m, kDensity, 0.0);
  std::vector<char> held = m.on_rim;
  for (int i = 0; i < state.nodes(); ++i) {
    const double R = m.flat_m[at(i)].norm();
    state.x_m[at(i)].head<2>() *= 1.0 - (1.0 - kDrawnIn) * kInner_m / R * (kOuter_m - R) / (kOuter_m - kInner_m);
  }
  EXPECT_LT(bring_to_rest(s.solver, state, held, steps), 1e-3) << s.name;
  RingErrors e{};
  double pull = 0.0, square = 0.0;
  for (int k = 0; k < 6 * rings; ++k) pull += state.force_N[at(k)].dot(state.x_m[at(k)].normalized());
  e.pull = pull / exact.pull_N - 1.0;
  int folded_in = 0;
  for (int t = 0; t < state.elements(); ++t) {
    const mesh::Triangle& c = state.triangles[at(t)];
    const double R = (m.flat_m[at(c[0])] + m.flat_m[at(c[1])] + m.flat_m[at(c[2])]).norm() / 3.0;
    const sheet::ElementStretch l = sheet::element_stretch(state, t);
    const auto p = point_at(exact, R);
    square += std::pow(l.l1 / p.l1 - 1.0, 2.0);
    e.wrinkle_largest = std::max(e.wrinkle_largest, std::fabs(l.wrinkle - std::max(0.0, 1.0 - p.l2 * std::sqrt(p.l1))));
    if (l.wrinkle > 0.0) e.folded_to_m = std::max(e.folded_to_m, R), ++folded_in;
  }
  EXPECT_GT(folded_in, state.elements() / 10);
  e.stretch_rms = std::sqrt(square / state.elements());
  return e;
}

// The inner edge is drawn in by a quarter. 16 rings: at that edge excess and stretch change by a tenth over an element,
// which a triangle of even stretch meets to about a third of that; the foremost folded triangle stands within an
// element of the line.
TEST(Wrinkle, AnnulusFoldsToTheRadiusOfTheory) {
  int checked = 0;
  for (const Sample& s : samples()) {
    const Ring exact = ring_solution(s.law);
    ASSERT_GT(exact.folded_to_m, 1.1 * kInner_m);
    ASSERT_LT(exact.folded_to_m, 0.9 * kOuter_m);
    const RingErrors coarse = ring_errors(s, 8, 8000), fine = ring_errors(s, 16, 16000);
    for (const auto& [name, value] : {std::pair{" pull ", fine.pull}, std::pair{" stretch ", fine.stretch_rms},
                                      std::pair{" wrinkle ", fine.wrinkle_largest}})
      RecordProperty(s.name + name, std::to_string(value));
    EXPECT_NEAR(fine.folded_to_m, exact.folded_to_m, (kOuter_m - kInner_m) / 16.0) << s.name;
    EXPECT_LT(std::fabs(fine.pull), 0.005) << s.name;
    EXPECT_LT(fine.stretch_rms, 0.005) << s.name;
    EXPECT_LT(fine.wrinkle_largest, 0.03) << s.name;
    EXPECT_GT(coarse.stretch_rms, 1.7 * fine.stretch_rms) << s.name;
    ++checked;
  }
  EXPECT_EQ(checked, 2);
}

/// Simple shear by gamma: l1 = gamma/2 + sqrt(1 + gamma^2/4), l2 = 1/l1: folded whatever gamma is.
struct Shear {
  double l1, wrinkle, energy_Pa, stress_Pa;
};
Shear shear_solution(const reference::Law& law, double gamma) {
  const double root = std::sqrt(1.0 + 0.25 * gamma * gamma), l1 = 0.5 * gamma + root;
  const reference::LawPoint p = reference::tension_field(law)(l1, 1.0 / l1);
  return {l1, 1.0 - std::sqrt(l1) / l1, p.w_Pa, p.w1_Pa * (0.5 + 0.25 * gamma / root)};
}

// A square of which all four sides are sheared: every triangle is in the same state, to round-off; inner nodes pull on
// nothing, and the pull on the top side is the slope of the energy.
TEST(Wrinkle, ShearedSquareIsExact) {
  constexpr double kSide_m = 0.04, kGamma = 0.3;
  const mesh::SheetMesh m =
      mesh::mesh_sheet({mesh::RoundedRectangle{kSide_m, kSide_m, 0.0}, {0.0, 0.0}}, {3e-3, 3e-3, {}});
  int checked = 0;
  for (const Sample& s : samples()) {
    const Shear exact = shear_solution(s.law, kGamma);
    ASSERT_GT(exact.wrinkle, 0.05);
    sheet::SheetState state = sheet::flat_sheet(m, kThickness_m, kDensity, 0.0);
    for (Vec3& x : state.x_m) x.x() += kGamma * x.y();
    std::fill(state.moved.begin(), state.moved.end(), 1);
    sheet::membrane_forces(s.solver, state);
    double top_N = 0.0, inner_N = 0.0;
    for (int i = 0; i < state.nodes(); ++i) {
      if (!m.on_rim[at(i)])
        inner_N = std::max(inner_N, state.force_N[at(i)].norm());
      else if (m.flat_m[at(i)].y() > 0.5 * kSide_m - 1e-9)
        top_N -= state.force_N[at(i)].x();
    }
    const double shear_N = exact.stress_Pa * kSide_m * kThickness_m;
    EXPECT_LT(inner_N, 1e-10 * shear_N) << s.name;
    EXPECT_NEAR(sheet::strain_energy_J(s.solver, state), exact.energy_Pa * kSide_m * kSide_m * kThickness_m,
                1e-9 * shear_N * kSide_m)
        << s.name;
    for (int e = 0; e < state.elements(); ++e) {
      EXPECT_NEAR(sheet::element_stretch(state, e).l1, exact.l1, 1e-9);
      EXPECT_NEAR(sheet::element_stretch(state, e).wrinkle, exact.wrinkle, 1e-9);
    }
    // Corners belong to two sides: half an element of the other side's pull is in the sum.
    EXPECT_NEAR(top_N, shear_N, 0.1 * shear_N) << s.name;
    ++checked;
  }
  EXPECT_EQ(checked, 2);
}

// A strip held on its long sides only, brought to rest: away from its free ends the shear force is that of theory. The
// ends, whose lines of tension reach one strip width into it at 45 degrees and less, hang slack.
TEST(Wrinkle, ShearedStripPullsAsTheory) {
  constexpr double kLong_m = 0.12, kWide_m = 0.02, kGamma = 0.4;
  const mesh::SheetMesh m =
      mesh::mesh_sheet({mesh::RoundedRectangle{kLong_m, kWide_m, 0.0}, {0.0, 0.0}}, {1.5e-3, 1.5e-3, {}});
  int checked = 0;
  for (const Sample& s : samples()) {
    const Shear exact = shear_solution(s.law, kGamma);
    sheet::SheetState state = sheet::flat_sheet(m, kThickness_m, kDensity, 0.0);
    std::vector<char> held(m.on_rim.size(), 0);
    for (int i = 0; i < state.nodes(); ++i) {
      held[at(i)] = std::fabs(m.flat_m[at(i)].y()) > 0.5 * kWide_m - 1e-9;
      state.x_m[at(i)].x() += kGamma * m.flat_m[at(i)].y();
    }
    EXPECT_LT(bring_to_rest(s.solver, state, held, 6000), 0.01) << s.name;
    double pull_N = 0.0, wrinkle = 0.0;
    int middle = 0;
    for (int i = 0; i < state.nodes(); ++i)
      if (held[at(i)] && m.flat_m[at(i)].y() > 0.0 && std::fabs(m.flat_m[at(i)].x()) < 0.25 * kLong_m)
        pull_N -= state.force_N[at(i)].x();
    for (int e = 0; e < state.elements(); ++e) {
      const mesh::Triangle& t = state.triangles[at(e)];
      if (std::fabs((m.flat_m[at(t[0])] + m.flat_m[at(t[1])] + m.flat_m[at(t[2])]).x() / 3.0) > 0.25 * kLong_m)
        continue;
      wrinkle += sheet::element_stretch(state, e).wrinkle;
      ++middle;
    }
    ASSERT_GT(middle, 500);
    const double shear_N = exact.stress_Pa * 0.5 * kLong_m * kThickness_m;
    // Nodes of the side within the middle half: its length is known to one element in 40.
    EXPECT_NEAR(pull_N, shear_N, 0.03 * shear_N) << s.name;
    EXPECT_NEAR(wrinkle / middle, exact.wrinkle, 0.02 * exact.wrinkle) << s.name;
    ++checked;
  }
  EXPECT_EQ(checked, 2);
}

// A round sheet over two posts, its rim drawn in by a quarter and both posts apart by a tenth: sheet in excess around,
// and pulled from post to post. Theory: a web runs from post to post along a straight line of tension, so its ridge
// stays at the height of the posts (a taut sheet would sag there), is stretched by the tenth, and folds across; the
// picture is symmetric.
TEST(Wrinkle, SheetOverTwoPostsWebsFromPostToPost) {
  constexpr double kRadius_m = 0.05, kAt_m = 0.015, kPost_m = 0.003, kHeight_m = 0.02, kApart = 1.1;
  const sheet::Polymer law = sheet::NeoHookean{0.3e6};
  const mesh::SheetMesh m = mesh::mesh_sheet({mesh::Disc{2.0 * kRadius_m}, {0.0, 0.0}}, {1.25e-3, 1.25e-3, {}});
  sheet::SheetState state = sheet::flat_sheet(m, kThickness_m, kDensity, 0.0);
  std::vector<char> held = m.on_rim;
  for (int i = 0; i < state.nodes(); ++i) {
    const Vec2& flat = m.flat_m[at(i)];
    const double side = flat.x() < 0.0 ? -1.0 : 1.0;
    Vec3& x = state.x_m[at(i)];
    x.head<2>() = 0.75 * flat;
    x.z() = kHeight_m * (1.0 - flat.norm() / kRadius_m);
    const double gap_m = 2.0 * (kAt_m - kPost_m);  // flat, between the posts
    if ((flat - Vec2{side * kAt_m, 0.0}).norm() < kPost_m) {
      held[at(i)] = 1;
      x = {flat.x() + side * 0.5 * (kApart - 1.0) * gap_m, flat.y(), kHeight_m};
    }
  }
  bring_to_rest(law, state, held, 12000);
  double ridge_m = 0.0, lowest_m = 1.0;
  int on_ridge = 0, web = 0;
  for (int i = 0; i < state.nodes(); ++i) {
    const Vec2& flat = m.flat_m[at(i)];
    if (std::fabs(flat.y()) > 1e-3 || std::fabs(flat.x()) > kAt_m - kPost_m) continue;
    ridge_m += state.x_m[at(i)].z();
    lowest_m = std::min(lowest_m, state.x_m[at(i)].z());
    ++on_ridge;
  }
  ASSERT_GT(on_ridge, 10);
  EXPECT_NEAR(ridge_m / on_ridge, kHeight_m, 0.02 * kHeight_m);
  double stretch = 0.0, excess[2] = {0.0, 0.0};
  for (int e = 0; e < state.elements(); ++e) {
    const mesh::Triangle& t = state.triangles[at(e)];
    const Vec2 flat = (m.flat_m[at(t[0])] + m.flat_m[at(t[1])] + m.flat_m[at(t[2])]) / 3.0;
    const sheet::ElementStretch l = sheet::element_stretch(state, e);
    if (std::fabs(flat.y()) < 1e-3 && std::fabs(flat.x()) < 0.8 * (kAt_m - kPost_m)) {
      EXPECT_GT(l.wrinkle, 0.0) << "not folded at " << flat.transpose();
      stretch += l.l1;
      ++web;
    }
    if (std::fabs(flat.x()) < 0.01) excess[flat.y() > 0.0 ? 1 : 0] += l.wrinkle;
  }
  ASSERT_GT(web, 20);
  RecordProperty("ridge_mm", std::to_string(1e3 * ridge_m / on_ridge));
  RecordProperty("stretch", std::to_string(stretch / web));
  // Nodes held at the posts reach up to an element less far than the posts.
  EXPECT_NEAR(stretch / web, kApart, 0.015);
  EXPECT_NEAR(excess[0], excess[1], 0.05 * excess[0]) << "symmetric";
}

}  // namespace
}  // namespace pellicle
