// A mould file becomes a welded mesh in metres, turned first and moved then; the wrong unit is noticed.
#include "io/moulds/load.h"

#include "io/moulds/weld.h"
#include "mesh/check.h"
#include "tests/io/moulds/mould_files.h"
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
  SurfaceFile file_with(const std::string& bytes, const std::string& name = "mould.stl") const {
    std::ofstream(folder_ / name, std::ios::binary) << bytes;
    return {folder_ / name, 1e-3, "mm", {}};
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

/// Inches said to be millimetres, metres said to be millimetres, and back: the size as read, what the right unit would
/// make of it, and the mesh as the case says all the same.
TEST_F(LoadSurface, TheWrongUnitIsToldAndNeverMended) {
  const mesh::Outline sheet{mesh::Disc{0.1}, mesh::Vec2::Zero()};
  struct Slip {
    double size;
    double unit_m;
    const char* unit;
    std::string says;
  };
  const Slip slips[] = {{2, 1e-3, "mm", "unit = \"in\" would make it 50.8 x 25.4 mm"},
                        {0.12, 1e-3, "mm", "unit = \"m\" would make it 120 x 60 mm"},
                        {60, 0.0254, "in", "unit = \"mm\" would make it 60 x 30 mm"},
                        {6, 1.0, "m", "unit = \"cm\" would make it 60 x 30 mm"}};
  int checked = 0;
  for (const Slip& slip : slips) {
    for (const std::string kind : {"stl", "obj", "ply"}) {
      const std::vector<Facet> facets = box_facets(slip.size, slip.size / 2, slip.size / 2);
      mesh::TriangleMesh box = mesh::box(Vec3::Zero(), 1e-3 * Vec3(slip.size, slip.size / 2, slip.size / 2));
      SurfaceFile file = file_with(kind == "stl"   ? binary_stl(facets)
                                   : kind == "obj" ? obj_text(box)
                                                   : ply_bytes(box, "ascii"),
                                   "mould." + kind);
      file.unit_m = slip.unit_m;
      file.unit_name = slip.unit;
      const Surface surface = load_surface(file);
      const auto doubt = unit_doubt(file, surface.notes, sheet);
      ASSERT_TRUE(doubt);
      EXPECT_NE(doubt->find(slip.says), std::string::npos) << *doubt;
      EXPECT_NE(doubt->find(fmt::format("unit = \"{}\"", slip.unit)), std::string::npos) << *doubt;
      EXPECT_NEAR(surface.notes.high_m.x() - surface.notes.low_m.x(), slip.size * slip.unit_m, 1e-6 * slip.size);
      ++checked;
    }
  }
  EXPECT_EQ(checked, 12);
  const SurfaceFile fits = file_with(binary_stl(box_facets(60, 20, 10)));
  EXPECT_FALSE(unit_doubt(fits, load_surface(fits).notes, sheet));
}

TEST_F(LoadSurface, AUnitOfTheFilesOwnIsDoubtedToo) {
  const mesh::Outline sheet{mesh::Disc{0.1}, mesh::Vec2::Zero()};
  const std::string object = mesh_xml(mesh::box(Vec3::Zero(), Vec3(2e-3, 1e-3, 1e-3)), 1);
  SurfaceFile file = file_with(threemf_bytes(model_xml("millimeter", object, "<item objectid=\"1\"/>")), "mould.3mf");
  file.unit_name.clear();
  const auto doubt = unit_doubt(file, load_surface(file).notes, sheet);
  ASSERT_TRUE(doubt);
  EXPECT_NE(doubt->find("the file's own unit = \"mm\""), std::string::npos) << *doubt;
  EXPECT_NE(doubt->find("exported in \"in\" would make it 50.8 x 25.4 mm"), std::string::npos) << *doubt;
}

TEST_F(LoadSurface, AnotherUnitThanTheFilesIsRefused) {
  const std::string object = mesh_xml(mesh::box(Vec3::Zero(), Vec3(2e-3, 1e-3, 1e-3)), 1);
  SurfaceFile file = file_with(threemf_bytes(model_xml("inch", object, "<item objectid=\"1\"/>")), "mould.3mf");
  for (const std::string same : {"", "in"}) {
    file.unit_name = same;
    const Surface surface = load_surface(file);
    EXPECT_EQ(surface.notes.unit_name, "in");
    EXPECT_TRUE(surface.notes.is_unit_of_file);
    EXPECT_NEAR(surface.notes.high_m.x(), 2 * 0.0254, 1e-9);
  }
  file.unit_name = "mm";
  try {
    load_surface(file);
    ADD_FAILURE() << "was taken";
  } catch (const Error& error) {
    EXPECT_EQ(error.exit_code(), 3);
    EXPECT_NE(error.fault().found.find("\"mm\" by mould.unit"), std::string::npos) << error.what();
  }
}

/// The same mould in every kind of file is the same mesh: same points in the same order, same triangles.
TEST_F(LoadSurface, EveryKindOfFileGivesTheMeshOfTheStl) {
  const mesh::TriangleMesh shapes[] = {mesh::box({0, 0, 0}, {0.03, 0.02, 0.01}),
                                       mesh::cup(0.02, 0.01, 0.015, 0.03, 24, 3), skew_shape()};
  int compared = 0;
  for (const mesh::TriangleMesh& shape : shapes) {
    const Surface stl = load_surface(file_with(stl_bytes(shape)));
    ASSERT_TRUE(is_closed(stl.mesh));
    EXPECT_NEAR(volume_of(stl.mesh), volume_of(shape), 1e-6 * volume_of(shape));
    const std::pair<const char*, std::string> files[] = {{"a.obj", obj_text(shape)},
                                                         {"a.ply", ply_bytes(shape, "ascii")},
                                                         {"b.ply", ply_bytes(shape, "binary_little_endian")},
                                                         {"c.PLY", ply_bytes(shape, "binary_big_endian")},
                                                         {"a.3mf", threemf_bytes(shape)}};
    for (const auto& [name, bytes] : files) {
      const Surface other = load_surface(file_with(bytes, name));
      EXPECT_TRUE(other.notes.notes.empty()) << other.notes.notes.front();
      EXPECT_EQ(other.mesh.triangles, stl.mesh.triangles) << name;
      ASSERT_EQ(other.mesh.points_m.size(), stl.mesh.points_m.size()) << name;
      for (std::size_t i = 0; i < stl.mesh.points_m.size(); ++i) {
        EXPECT_EQ(other.mesh.points_m[i], stl.mesh.points_m[i]) << name;
      }
      ++compared;
    }
  }
  EXPECT_EQ(compared, 15);
}

TEST_F(LoadSurface, WhatIsNoFileIsRefusedForEveryKind) {
  int refused = 0;
  for (const std::string ending : {"stl", "obj", "ply", "3mf", "step", "stp"}) {
    const fs::path folder = folder_ / ("folder." + ending);
    fs::create_directories(folder);
    for (const SurfaceFile& file :
         {SurfaceFile{folder, 1e-3, "mm", {}}, SurfaceFile{folder_ / ("none." + ending), 1e-3, "mm", {}},
          file_with("", "empty." + ending), file_with("nothing of the kind\n", "wrong." + ending)}) {
      try {
        load_surface(file);
        ADD_FAILURE() << "was taken: " << file.path;
      } catch (const Error& error) {
        EXPECT_EQ(error.exit_code(), 3);
        EXPECT_TRUE(error.fault().where.starts_with(file.path.string())) << error.what();
        ++refused;
      }
    }
  }
  EXPECT_EQ(refused, 24);
}

TEST(FileKind, GoesByTheEnding) {
  EXPECT_EQ(file_kind("a.STL"), FileKind::kStl);
  EXPECT_EQ(file_kind("a.obj"), FileKind::kObj);
  EXPECT_EQ(file_kind("a.b.Ply"), FileKind::kPly);
  EXPECT_EQ(file_kind("a.3mf"), FileKind::kThreemf);
  EXPECT_EQ(file_kind("a.step"), FileKind::kStep);
  EXPECT_EQ(file_kind("a.STP"), FileKind::kStep);
  EXPECT_EQ(file_kind("a.txt"), FileKind::kUnknown);
  EXPECT_EQ(file_kind("stl"), FileKind::kUnknown);
}

}  // namespace
}  // namespace pellicle::moulds
