// Does a mould that is finer than the sheet's elements hold them up, or does it cut through unseen?
#include "solver/forming/corner_contact.h"

#include "mesh/refine.h"
#include "solver/sheet/membrane.h"
#include "tests/solver/forming/small_run.h"
#include "tests/solver/threads.h"

#include <gtest/gtest.h>
#include <Eigen/Geometry>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include <numbers>

namespace pellicle::forming {
namespace {

/// A four-sided spike with its point off every symmetry of a mesh.
mesh::TriangleMesh spike(const mesh::Vec2& at_m, double foot_m, double height_m) {
  mesh::TriangleMesh m =
      mesh::box({at_m.x() - foot_m, at_m.y() - foot_m, 0.0}, {at_m.x() + foot_m, at_m.y() + foot_m, height_m});
  for (mesh::Vec3& p : m.points_m)
    if (p.z() > 0.0) p.head<2>() = at_m + 0.05 * (p.head<2>() - at_m);
  return m;
}

struct Named {
  std::string name;
  mesh::TriangleMesh mould;
};
std::vector<Named> fine_moulds() {
  return {{"thin rib", mesh::box({-0.25e-3, -12e-3, 0.0}, {0.35e-3, 12e-3, 6e-3})},
          {"spike", spike({0.7e-3, 0.4e-3}, 1.5e-3, 6e-3)},
          {"block", mesh::box({-9.3e-3, -8.1e-3, 0.0}, {8.7e-3, 9.2e-3, 6e-3})},
          {"two ribs closer than an element", [] {
             mesh::TriangleMesh two = mesh::box({-1.0e-3, -10e-3, 0.0}, {-0.5e-3, 10e-3, 6e-3});
             const mesh::TriangleMesh other = mesh::box({0.4e-3, -10e-3, 0.0}, {0.9e-3, 10e-3, 6e-3});
             const int shift = static_cast<int>(two.points_m.size());
             two.points_m.insert(two.points_m.end(), other.points_m.begin(), other.points_m.end());
             for (const mesh::Triangle& t : other.triangles)
               two.triangles.push_back({t[0] + shift, t[1] + shift, t[2] + shift});
             return two;
           }()}};
}

TEST(CornerContact, NoFineMouldStandsThroughACoarseSheet) {
  int checked = 0;
  for (const Named& fine : fine_moulds())
    for (const Friction friction : {Friction{true, 0.0}, Friction{false, 0.3}}) {
      FormingSpec spec = disc_spec(0.05, 7e-3, 3e-3);
      spec.friction = friction;
      spec.stages = {lower_to(2e-3), press(4e4)};
      const mould::RigidMould mould(fine.mould, true);
      const std::string name = fine.name + (friction.stick ? " stick" : " slip");
      Forming forming(spec, mould, mesh_of(spec));
      ASSERT_TRUE(forming.run({})) << name;
      EXPECT_LT(forming.worst_balance(), 0.02) << name;
      const Penetration p = forming.deepest_penetration();
      EXPECT_LT(p.of_thickness, friction.stick ? 0.10 : 0.50)
          << name << " balance " << forming.worst_balance() << " at " << 1e3 * p.place_m.transpose();
      // It has come to rest: edges that put nodes back for ever would keep it in motion.
      const Ledger& ledger = forming.snapshot().ledger;
      EXPECT_LT(ledger.kinetic_J, 1e-3 * ledger.strain_J) << name;
      // And it was lifted: the sheet hangs at the top of the rib, which no node need have met; a sliding one lower, by
      // as much as it may be cut.
      const FormingResult r = forming.result();
      double top = 0.0;
      for (std::size_t i = 0; i < r.points_m.size(); ++i)
        if (!r.on_rim[i]) top = std::max(top, r.points_m[i].z());
      EXPECT_GT(top, friction.stick ? 5.9e-3 : 5.5e-3) << name;
      ++checked;
    }
  EXPECT_EQ(checked, 8);
}

// What is known to be bare saves time only: the pairs are those that one finds who has never looked before.
TEST(CornerContact, WhatWasBareChangesNoPair) {
  const FormingSpec spec = disc_spec(0.05, 9e-3, 3e-3);
  const mesh::Nearest surface(spike({0.7e-3, 0.4e-3}, 1.5e-3, 6e-3));
  const mould::Creases creases(surface, {.spacing_m = 5e-4, .largest_radius_m = 1e-2, .merge_m = 1e-5});
  sheet::SheetState s = sheet::flat_sheet(mesh_of(spec), kBought_m, 1200.0, 9e-3);
  CornerContact kept(&creases, true);
  int found = 0;
  for (int k = 0; k < 60; ++k) {
    // Down, up again, and sideways; the middle ahead. Twice it is cut on the way.
    for (mesh::Vec3& x : s.x_m) {
      x.z() += (k < 40 ? -1.2e-4 : 1e-4) * (1.0 - 100.0 * (x.x() * x.x() + x.y() * x.y()));
      x.x() += 5e-5;
    }
    if (k == 20 || k == 30) {
      const mesh::Refined cut = mesh::refine(s.flat_m, s.triangles, std::vector<char>(s.triangles.size(), 1), 0.0);
      sheet::refine(s, cut);
      kept.follow(cut.parent);
    }
    CornerContact fresh(&creases, true);
    const std::vector<mould::Neighbourhood> near(s.x_m.size());
    std::vector<Poke> pokes, fresh_pokes;
    std::vector<mesh::Vec3> at_m, fresh_at_m;
    kept.find(s, near, 1e-3, pokes, at_m);
    fresh.find(s, near, 1e-3, fresh_pokes, fresh_at_m);
    ASSERT_EQ(pokes.size(), fresh_pokes.size()) << k;
    for (std::size_t i = 0; i < pokes.size(); ++i) {
      EXPECT_EQ(pokes[i].crease, fresh_pokes[i].crease) << k;
      EXPECT_EQ(pokes[i].triangle, fresh_pokes[i].triangle) << k;
      EXPECT_EQ(pokes[i].allowed_m, fresh_pokes[i].allowed_m) << k;
    }
    found += pokes.empty() ? 0 : 1;
  }
  EXPECT_GT(found, 5);
  EXPECT_LT(found, 55);
}

/// A rough square of 30 mm, 5 mm up, open below.
mesh::TriangleMesh rough_square() {
  constexpr int kSquares = 40;
  mesh::TriangleMesh m;
  std::uint32_t dice = 7;
  for (int j = 0; j <= kSquares; ++j)
    for (int i = 0; i <= kSquares; ++i) {
      dice = 1664525U * dice + 1013904223U;
      const double up_m = 0.4e-3 * (dice >> 8U) / 16777216.0;
      m.points_m.emplace_back(30e-3 * i / kSquares - 15e-3, 30e-3 * j / kSquares - 15e-3, 5e-3 + up_m);
    }
  for (int j = 0; j < kSquares; ++j)
    for (int i = 0; i < kSquares; ++i) {
      const int a = j * (kSquares + 1) + i, b = a + kSquares + 1;
      m.triangles.push_back({a, a + 1, b + 1});
      m.triangles.push_back({a, b + 1, b});
    }
  return m;
}

/// The triangle nearest to a crease of all that it faces.
struct NearestOfAll {
  int triangle = -1;
  double depth_m = 0.0, beside_m = 0.0;
};
NearestOfAll nearest_of_all(const sheet::SheetState& s, const mould::Crease& crease) {
  NearestOfAll best;
  mesh::Closest closest;
  for (int e = 0; e < s.elements(); ++e) {
    const mesh::Triangle& t = s.triangles[static_cast<std::size_t>(e)];
    const auto corner = [&](int c) { return s.x_m[static_cast<std::size_t>(t[static_cast<std::size_t>(c)])]; };
    const mesh::Vec3 area = (corner(1) - corner(0)).cross(corner(2) - corner(0));
    const mesh::Closest here = mesh::closest_on_triangle(crease.point_m, corner(0), corner(1), corner(2));
    if (!(crease.outward.dot(area) > 0.0) || here.distance_m >= closest.distance_m) continue;
    closest = here;
    const mesh::Vec3 normal = area.normalized(), off = crease.point_m - here.point_m;
    best = {e, normal.dot(off), (off - normal.dot(off) * normal).norm()};
  }
  return best;
}

// The brute-force twin: every crease against every triangle.
TEST(CornerContact, ACreaseHasAPairWithTheNearestOfAllTriangles) {
  const FormingSpec spec = disc_spec(0.05, 5e-3, 3e-3);
  const mesh::Nearest surface(rough_square());
  const mould::Creases creases(surface, {.spacing_m = 1e-3, .largest_radius_m = 4e-3, .merge_m = 1e-5});
  sheet::SheetState s = sheet::flat_sheet(mesh_of(spec), kBought_m, 1200.0, 5e-3);
  for (mesh::Vec3& x : s.x_m) x.z() += 0.2e-3 + 0.4e-3 * std::sin(900.0 * x.x()) * std::cos(800.0 * x.y());
  // One triangle as a needle: a corner comes to the side across.
  const mesh::Triangle& needle = s.triangles[static_cast<std::size_t>(s.elements() / 2)];
  const auto at = [&](std::size_t c) -> mesh::Vec3& { return s.x_m[static_cast<std::size_t>(needle[c])]; };
  at(0) = 0.5 * (at(1) + at(2)) + 1e-4 * (at(0) - 0.5 * (at(1) + at(2)));

  constexpr double kAhead_m = 0.02 * kBought_m;  // where nothing moves
  std::vector<int> expected(static_cast<std::size_t>(creases.size()), -1);
  std::vector<char> undecided(expected.size(), 0);
  int through = 0, alone = 0;
  double deepest_m = 0.0;
  for (std::size_t k = 0; k < expected.size(); ++k) {
    const mould::Crease& crease = creases[static_cast<int>(k)];
    if (!crease.is_convex) continue;
    const NearestOfAll of_all = nearest_of_all(s, crease);
    // Under a ridge of the sheet a place is past the edges of all; so near the edge the least rounding decides.
    undecided[k] =
        std::fabs(of_all.beside_m - std::fabs(of_all.depth_m)) < 2e-8 || std::fabs(of_all.depth_m + kAhead_m) < 1e-12;
    const bool over = of_all.beside_m < std::fabs(of_all.depth_m);
    if (over && of_all.depth_m > -kAhead_m) expected[k] = of_all.triangle;
    if (over) deepest_m = std::max(deepest_m, of_all.depth_m);
    (expected[k] < 0 ? alone : through) += 1;
  }
  EXPECT_GT(through, 300);
  EXPECT_GT(alone, 300);
  for (const int threads : {1, 3}) {
    const Threads count(threads);
    CornerContact contact(&creases, true);
    std::vector<Poke> pokes;
    std::vector<mesh::Vec3> at_m;
    contact.find(s, std::vector<mould::Neighbourhood>(s.x_m.size()), 1e-3, pokes, at_m);
    std::vector<int> found(expected.size(), -1);
    for (const Poke& poke : pokes) found[static_cast<std::size_t>(poke.crease)] = poke.triangle;
    for (std::size_t k = 0; k < expected.size(); ++k)
      EXPECT_TRUE(undecided[k] || found[k] == expected[k])
          << k << ": " << found[k] << " for " << expected[k] << ", threads " << threads;
    EXPECT_NEAR(deepest(s, creases).depth_m, deepest_m, 1e-12) << threads;
  }
}

// A node that stands on the mould lies still beside a held edge just where the edge's plane is left to the mould.
TEST(CornerContact, LeavesToTheMouldWhereNoPlaneOfItsHolds) {
  const FormingSpec spec = disc_spec(0.05, 5e-3, 3e-3);
  const mesh::Nearest surface(spike({0.7e-3, 0.4e-3}, 1.5e-3, 5.2e-3));
  const mould::Creases creases(surface, {.spacing_m = 5e-4, .largest_radius_m = 1e-2, .merge_m = 1e-5});
  const sheet::SheetState s = [&] {
    sheet::SheetState flat = sheet::flat_sheet(mesh_of(spec), kBought_m, 1200.0, 5e-3);
    sheet::membrane_forces(spec.sheet.law, flat);  // area vectors too
    return flat;
  }();
  for (const bool sticks : {true, false}) {
    CornerContact contact(&creases, sticks);
    std::vector<Poke> pokes;
    std::vector<mesh::Vec3> at_m;
    contact.find(s, std::vector<mould::Neighbourhood>(s.x_m.size()), 1e-3, pokes, at_m);
    const Touch never{.first_s = std::numeric_limits<double>::quiet_NaN()};
    contact.begin_step(s, std::vector<Touch>(s.x_m.size(), never), 1e-5);
    int held = 0;
    for (int i = 0; i < s.nodes(); ++i) {
      if (!contact.concerns(i)) continue;
      ++held;
      for (const double degrees : {0.0, 17.0, 19.0, 44.0, 46.0, 90.0}) {
        const double angle = degrees * std::numbers::pi / 180.0;
        const mesh::Vec3 normal{std::sin(angle), 0.0, std::cos(angle)};
        mould::Planes own;
        own.add({normal, 0.0});
        const bool left = contact.leaves_to_mould(s, i, normal);
        EXPECT_EQ(left, degrees < (sticks ? 18.0 : 45.0)) << degrees;
        EXPECT_EQ(left, !contact.plane_at(s, i, 1e-5, own).has_value()) << degrees;
      }
    }
    EXPECT_GE(held, 3);
  }
}

TEST(CornerContact, DeepestFindsASpikeThroughATriangle) {
  // A flat sheet at 5 mm, a spike of 6 mm: one millimetre stands through, which is one thickness.
  const FormingSpec spec = disc_spec(0.05, 5e-3, 3e-3);
  const mesh::Nearest surface(spike({0.7e-3, 0.4e-3}, 1.5e-3, 6e-3));
  const mould::Creases creases(surface, {.spacing_m = 1e-3, .largest_radius_m = 1e-2, .merge_m = 1e-5});
  const sheet::SheetState s = sheet::flat_sheet(mesh_of(spec), kBought_m, 1200.0, 5e-3);
  const Penetration p = deepest(s, creases);
  EXPECT_NEAR(p.depth_m, 1e-3, 1e-12);
  EXPECT_NEAR(p.of_thickness, 1.0, 1e-9);
  EXPECT_NEAR(p.place_m.z(), 6e-3, 1e-12);
}

}  // namespace
}  // namespace pellicle::forming
