// A mould file becomes a welded mesh in metres, turned first and moved then; the wrong unit is noticed.
#include "io/moulds/load.h"

#include "io/moulds/weld.h"
#include "mesh/check.h"
#include "tests/io/moulds/stl_text.h"

#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <map>
#include <random>

namespace pellicle::moulds {
namespace {

namespace fs = std::filesystem;
using mesh::Vec3;

/// Every edge is used once in each direction.
bool is_closed(const mesh::TriangleMesh& mesh) {
  std::map<std::pair<int, int>, int> used;
  for (const mesh::Triangle& t : mesh.triangles) {
    for (std::size_t k = 0; k < 3; ++k) ++used[{t[k], t[(k + 1) % 3]}];
  }
  for (const auto& [edge, count] : used) {
    if (count != 1 || used[{edge.second, edge.first}] != 1) return false;
  }
  return !used.empty();
}

TEST(Weld, ABoxHasEightPoints) {
  const Welded welded = weld(box_facets(30, 20, 10));
  EXPECT_EQ(welded.mesh.points_m.size(), 8U);
  EXPECT_EQ(welded.mesh.triangles.size(), 12U);
  EXPECT_EQ(welded.degenerate_dropped, 0);
  EXPECT_EQ(welded.welded_apart, 0);
  EXPECT_TRUE(is_closed(welded.mesh));
}

TEST(Weld, NearPointsBecomeOneAndFarOnesDoNot) {
  const double diagonal = Vec3(30, 20, 10).norm();
  std::mt19937 random(7);
  for (const double share : {0.2, 10.0}) {  // of the tolerance
    std::uniform_real_distribution<double> noise(-0.5, 0.5);
    std::vector<Facet> facets = box_facets(30, 20, 10);
    for (Facet& facet : facets) {
      for (Vec3& p : facet) p += share * kWeldShare * diagonal * Vec3(noise(random), noise(random), noise(random));
    }
    const Welded welded = weld(facets);
    if (share < 1.0) {
      EXPECT_EQ(welded.mesh.points_m.size(), 8U);
      EXPECT_EQ(welded.welded_apart, 28);  // 36 corners, 8 of them first
      EXPECT_TRUE(is_closed(welded.mesh));
    } else {
      EXPECT_GT(welded.mesh.points_m.size(), 20U);
    }
  }
}

/// The grid gives what comparing each corner with every point gives.
TEST(Weld, AgreesWithBruteForce) {
  std::mt19937 random(11);
  std::uniform_int_distribution<int> step(0, 40);
  std::vector<Facet> facets;
  const double spacing = 40 * std::sqrt(3.0) * kWeldShare * 0.6;  // neighbours are within reach, the next ones not
  for (int i = 0; i < 300; ++i) {
    Facet facet;
    for (Vec3& p : facet) p = Vec3(10.0 * (step(random) % 5), 10.0 * (step(random) % 5), spacing * step(random));
    facets.push_back(facet);
  }
  facets.push_back({Vec3(0, 0, 0), Vec3(40, 40, 40), Vec3(40, 0, 0)});
  const Welded welded = weld(facets);
  std::vector<Vec3> points;
  for (const Facet& facet : facets) {
    for (const Vec3& p : facet) {
      bool is_near = false;
      for (const Vec3& q : points) is_near = is_near || (p - q).norm() <= welded.tolerance;
      if (!is_near) points.push_back(p);
    }
  }
  // Points of dropped triangles only are left out of the mesh: every point of it is one of the brute force's, in order.
  std::size_t at = 0;
  for (const Vec3& p : welded.mesh.points_m) {
    while (at < points.size() && points[at] != p) ++at;
    ASSERT_LT(at, points.size());
  }
  EXPECT_GT(welded.welded_apart, 100);
  EXPECT_GT(welded.mesh.points_m.size(), 100U);
}

TEST(Weld, TrianglesWithoutAreaAreDroppedAndCounted) {
  std::vector<Facet> facets = box_facets(30, 20, 10);
  facets.push_back({Vec3(0, 0, 0), Vec3(0, 0, 0), Vec3(30, 0, 0)});
  facets.push_back({Vec3(0, 0, 0), Vec3(10, 0, 0), Vec3(30, 0, 0)});
  const Welded welded = weld(facets);
  EXPECT_EQ(welded.degenerate_dropped, 2);
  EXPECT_EQ(welded.mesh.points_m.size(), 8U) << "the point of the dropped one is gone too";
  EXPECT_TRUE(is_closed(welded.mesh));
}

TEST(Weld, NothingButPointsIsNoCrash) {
  for (const double size : {0.0, 1e-320, 1e-45}) {
    const Welded welded = weld({{Vec3(1, 1, 1), Vec3(1, 1, 1), Vec3(1, 1, 1 + size)}});
    EXPECT_TRUE(welded.mesh.triangles.empty());
    EXPECT_EQ(welded.degenerate_dropped, 1);
  }
}

class LoadSurface : public testing::Test {
 protected:
  void SetUp() override {
    const testing::TestInfo& info = *testing::UnitTest::GetInstance()->current_test_info();
    folder_ = fs::path(testing::TempDir()) / (std::string("pellicle_load_") + info.name());
    fs::remove_all(folder_);
    fs::create_directories(folder_);
  }
  void TearDown() override { fs::remove_all(folder_); }
  SurfaceFile file_with(const std::string& bytes) const {
    std::ofstream(folder_ / "mould.stl", std::ios::binary) << bytes;
    return {folder_ / "mould.stl", 1e-3, "mm", {}};
  }
  fs::path folder_;
};

TEST_F(LoadSurface, UnitsTurnAndMove) {
  SurfaceFile file = file_with(binary_stl(box_facets(30, 20, 10)));
  file.placement = {2, std::acos(0.0), Vec3(0.05, 0, 0.001)};
  const Surface surface = load_surface(file);
  EXPECT_EQ(surface.notes.format, "binary STL");
  EXPECT_EQ(surface.notes.facets_in_file, 12);
  EXPECT_EQ(surface.notes.points, 8);
  EXPECT_NEAR(surface.notes.weld_tolerance_m, kWeldShare * 1e-3 * Vec3(30, 20, 10).norm(), 1e-15);
  // A quarter turn about z takes x to y: the box spans x -20..0, y 0..30; then the shift. Exact to rounding of 1e-3.
  EXPECT_NEAR((surface.notes.low_m - Vec3(0.03, 0, 0.001)).norm(), 0, 1e-17);
  EXPECT_NEAR((surface.notes.high_m - Vec3(0.05, 0.03, 0.011)).norm(), 0, 1e-17);
  double low = 1;
  for (const Vec3& p : surface.mesh.points_m) low = std::min(low, p.z());
  EXPECT_EQ(low, 0.001) << "a flat base stays flat";
}

TEST_F(LoadSurface, TurnsAreRightHandedAboutEachAxis) {
  for (const int axis : {0, 1, 2}) {
    SurfaceFile file = file_with(binary_stl(box_facets(30, 20, 10)));
    file.placement = {axis, 0.3, Vec3::Zero()};
    const Surface turned = load_surface(file);
    file.placement = {};
    const Surface plain = load_surface(file);
    const int i = (axis + 1) % 3, j = (axis + 2) % 3;
    int checked = 0;
    for (std::size_t n = 0; n < plain.mesh.points_m.size(); ++n) {
      const Vec3 &p = plain.mesh.points_m[n], &q = turned.mesh.points_m[n];
      EXPECT_NEAR(q[axis], p[axis], 1e-17);
      EXPECT_NEAR(q[i], std::cos(0.3) * p[i] - std::sin(0.3) * p[j], 1e-16);
      EXPECT_NEAR(q[j], std::sin(0.3) * p[i] + std::cos(0.3) * p[j], 1e-16);
      ++checked;
    }
    EXPECT_EQ(checked, 8);
  }
}

TEST_F(LoadSurface, WhatCannotBeAMouldIsRefused) {
  EXPECT_THROW(load_surface(file_with(binary_stl({{Vec3(0, 0, 0), Vec3(1, 0, 0), Vec3(2, 0, 0)}}))), Error);
  EXPECT_THROW(load_surface(file_with(binary_stl(box_facets(1e-3, 1e-3, 1e-3)))), Error) << "1 um";
  EXPECT_THROW(load_surface(file_with(binary_stl(box_facets(1e6, 1e6, 1e6)))), Error) << "1 km";
  EXPECT_THROW(load_surface(file_with("no mould at all")), Error);
  EXPECT_THROW(load_surface({folder_ / "none.stl", 1e-3, "mm", {}}), Error);
}

TEST_F(LoadSurface, TheWrongUnitIsNoticed) {
  const mesh::Outline sheet{mesh::Disc{0.1}, mesh::Vec2::Zero()};
  SurfaceFile file = file_with(binary_stl(box_facets(2, 1, 1)));  // inches said to be millimetres
  const auto doubt = unit_doubt(file, load_surface(file).notes, sheet);
  ASSERT_TRUE(doubt);
  EXPECT_NE(doubt->find("unit = \"in\""), std::string::npos) << *doubt;
  file = file_with(binary_stl(box_facets(60, 20, 10)));
  EXPECT_FALSE(unit_doubt(file, load_surface(file).notes, sheet));
  file.unit_m = 0.0254;
  file.unit_name = "in";
  EXPECT_NE(unit_doubt(file, load_surface(file).notes, sheet).value_or("").find("unit = \"mm\""), std::string::npos);
}

TEST(FileKind, GoesByTheEnding) {
  EXPECT_EQ(file_kind("a.STL"), FileKind::kStl);
  EXPECT_EQ(file_kind("a.3mf"), FileKind::kNotYet);
  EXPECT_EQ(file_kind("a.step"), FileKind::kNotYet);
  EXPECT_EQ(file_kind("a.txt"), FileKind::kUnknown);
  EXPECT_EQ(file_kind("stl"), FileKind::kUnknown);
}

}  // namespace
}  // namespace pellicle::moulds
