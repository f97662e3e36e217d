// STEP surfaces become closed, outward meshes as near as stated; what is no STEP file is refused with its line.
#include "io/moulds/step.h"

#include "io/moulds/load.h"
#include "io/moulds/weld.h"
#include "mesh/step_surface.h"
#include "tests/io/moulds/mould_files.h"
#include "tests/io/moulds/step_file.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <map>
#include <numbers>
#include <sstream>

namespace pellicle::moulds {
namespace {

namespace fs = std::filesystem;
namespace occ = gmsh::model::occ;
using mesh::Vec3;
using std::numbers::pi;

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

class Step : public testing::Test {
 protected:
  void SetUp() override {
    const testing::TestInfo& info = *testing::UnitTest::GetInstance()->current_test_info();
    folder_ = fs::path(testing::TempDir()) / (std::string("pellicle_step_") + info.name());
    fs::remove_all(folder_);
    fs::create_directories(folder_);
  }
  void TearDown() override { fs::remove_all(folder_); }

  std::string path(const std::string& name = "m.step") const { return (folder_ / name).string(); }
  Surface load(const std::string& unit = "") const { return load_surface({path(), 1e-3, unit, {}}); }
  std::string text() const {
    std::ostringstream all;
    all << std::ifstream(path(), std::ios::binary).rdbuf();
    return all.str();
  }
  void spoil(const std::string& from, const std::string& to) const {
    std::string now = text();
    const std::size_t at = now.find(from);
    ASSERT_NE(at, std::string::npos) << from;
    std::ofstream(path(), std::ios::binary) << now.replace(at, from.size(), to);
  }
  Fault fault() const {
    try {
      load();
    } catch (const Error& error) {
      EXPECT_EQ(error.exit_code(), 3);
      return error.fault();
    }
    ADD_FAILURE() << "was taken";
    return {};
  }

  fs::path folder_;
};

/// Corners lie on the surface, and no point of a triangle is further from it than stated: seven by seven points of each
/// triangle are held against the formula.
double worst_mm(const mesh::TriangleMesh& mesh, const std::function<double(const Vec3&)>& distance_mm) {
  double worst = 0.0;
  constexpr int kParts = 6;
  for (const mesh::Triangle& t : mesh.triangles) {
    const auto at = [&](std::size_t k) -> const Vec3& { return mesh.points_m[static_cast<std::size_t>(t[k])]; };
    for (int i = 0; i <= kParts; ++i) {
      for (int j = 0; i + j <= kParts; ++j) {
        const Vec3 p = 1e3 / kParts * (i * at(0) + j * at(1) + (kParts - i - j) * at(2));
        worst = std::max(worst, std::fabs(distance_mm(p)));
      }
    }
  }
  return worst;
}

TEST_F(Step, ACylinderIsAsNearAsStated) {
  for (const double radius : {3.0, 25.0}) {
    write_step(path(), [&] { occ::addCylinder(0, 0, 0, 0, 0, 12, radius); });
    const Surface surface = load();
    EXPECT_EQ(surface.notes.format,
              radius > 20 ? "STEP, 1 solid, chord error 0.02 mm" : "STEP, 1 solid, chord error 0.015 mm");
    EXPECT_TRUE(is_closed(surface.mesh));
    // Outside a flat end or inside the wall: the distance from the surface of a point of a chord triangle.
    const double worst = worst_mm(surface.mesh, [&](const Vec3& p) {
      return std::min({std::fabs(std::hypot(p.x(), p.y()) - radius), std::fabs(p.z()), std::fabs(p.z() - 12)});
    });
    const double diagonal = std::sqrt(8 * radius * radius + 144);
    EXPECT_LE(worst, std::clamp(0.02, 1e-4 * diagonal, 1e-3 * diagonal));
    EXPECT_GT(worst, 0.002) << "or far too many triangles";
    RecordProperty(radius > 20 ? "worst_um_r25" : "worst_um_r3", std::to_string(1e3 * worst));
    RecordProperty(radius > 20 ? "triangles_r25" : "triangles_r3", static_cast<int>(surface.mesh.triangles.size()));
    const double volume = 1e9 * volume_of(surface.mesh), exact = pi * radius * radius * 12;
    EXPECT_LT(volume, exact);
    EXPECT_GT(volume, exact - 0.02 * (2 * pi * radius * 12)) << "the wall is at most the chord error thinner";
  }
}

TEST_F(Step, ASphereAndAConeAreAsNearAsStated) {
  write_step(path(), [] { occ::addSphere(1, 2, 3, 10); });
  const Surface sphere = load();
  EXPECT_TRUE(is_closed(sphere.mesh));
  const double worst = worst_mm(sphere.mesh, [](const Vec3& p) { return (p - Vec3(1, 2, 3)).norm() - 10; });
  EXPECT_LE(worst, 0.02);
  RecordProperty("worst_um_sphere", std::to_string(1e3 * worst));
  RecordProperty("triangles_sphere", static_cast<int>(sphere.mesh.triangles.size()));
  EXPECT_NEAR(1e9 * volume_of(sphere.mesh), 4.0 / 3.0 * pi * 1000, 0.02 * 4 * pi * 100);

  write_step(path(), [] { occ::addCone(0, 0, 0, 0, 0, 20, 10, 0); });  // curvature without bound at the tip
  const Surface cone = load();
  EXPECT_TRUE(is_closed(cone.mesh));
  const double far = worst_mm(cone.mesh, [](const Vec3& p) {
    const double wall = (std::hypot(p.x(), p.y()) - 10 * (1 - p.z() / 20)) * 2 / std::sqrt(5.0);
    return std::min(std::fabs(wall), std::fabs(p.z()));
  });
  EXPECT_LE(far, 0.02);
  EXPECT_LT(cone.mesh.triangles.size(), 60'000U) << "a tip is no reason to cut all of the cone finely";
  RecordProperty("worst_um_cone", std::to_string(1e3 * far));
  RecordProperty("triangles_cone", static_cast<int>(cone.mesh.triangles.size()));
}

/// A block with a round pocket and rounded edges: faces of many kinds meet without a gap.
TEST_F(Step, AMouldWithFilletsIsClosedAndOutward) {
  double exact = 0.0;
  write_step(path(), [&] {
    const int block = occ::addBox(-30, -20, 0, 60, 40, 20), hole = occ::addCylinder(0, 0, 8, 0, 0, 20, 15);
    gmsh::vectorpair cut, rounded, edges;
    std::vector<gmsh::vectorpair> ignored;
    occ::cut({{3, block}}, {{3, hole}}, cut, ignored);
    occ::synchronize();
    gmsh::model::getEntities(edges, 1);
    std::vector<int> tags;
    for (const auto& edge : edges) tags.push_back(edge.second);
    occ::fillet({cut[0].second}, tags, {1.5}, rounded);
    occ::getMass(3, rounded[0].second, exact);
  });
  const Surface surface = load("mm");
  EXPECT_TRUE(is_closed(surface.mesh));
  EXPECT_TRUE(surface.notes.notes.empty()) << surface.notes.notes.front();
  EXPECT_NEAR(1e9 * volume_of(surface.mesh), exact, 2e-3 * exact);
  EXPECT_NEAR(surface.notes.low_m.x(), -0.03, 1e-9);
  RecordProperty("triangles", static_cast<int>(surface.mesh.triangles.size()));
}

TEST_F(Step, SolidsShellsAndHollowsAreTold) {
  write_step(path(), [] {  // a hollow ball, a box, and a free rectangle
    gmsh::vectorpair out;
    std::vector<gmsh::vectorpair> ignored;
    occ::cut({{3, occ::addSphere(0, 0, 0, 10)}}, {{3, occ::addSphere(0, 0, 0, 5)}}, out, ignored);
    occ::addBox(20, 0, 0, 5, 6, 7);
    occ::addRectangle(40, 0, 0, 10, 10);
  });
  const Surface surface = load();
  EXPECT_TRUE(surface.notes.format.starts_with("STEP, 2 solids and 1 open shell")) << surface.notes.format;
  EXPECT_EQ(surface.notes.notes.size(), 2U);
  const double exact = 4.0 / 3.0 * pi * (1000 - 125) + 210;
  EXPECT_NEAR(1e9 * volume_of(surface.mesh), exact, 0.01 * exact) << "a hollow counts against the ball";
}

TEST_F(Step, AUnitIsTheFilesOwn) {
  write_step(path(), [] { occ::addBox(0, 0, 0, 50, 20, 10); });
  EXPECT_EQ(look_at_step(text(), "m.step").unit_name, "mm");
  EXPECT_NEAR(load("mm").notes.high_m.x(), 0.05, 1e-9);
  EXPECT_THROW(load("in"), Error);
  spoil("SI_UNIT(.MILLI.,.METRE.)", "SI_UNIT($,.METRE.)");
  EXPECT_EQ(look_at_step(text(), "m.step").unit_name, "m");
  EXPECT_NE(fault().found.find("5e+04 x 2e+04 x 1e+04 mm"), std::string::npos) << "50 m, as the file says";
}

TEST(StepText, UnitsAreFoundHoweverTheyAreWritten) {
  const auto unit = [](const std::string& data) {
    return look_at_step("ISO-10303-21;\nHEADER;\nDATA;\n" + data + "\nENDSEC;\nEND-ISO-10303-21;\n", "m.step")
        .unit_name;
  };
  const std::string mm = "#1=(LENGTH_UNIT() NAMED_UNIT(*) SI_UNIT(.MILLI.,.METRE.));";
  EXPECT_EQ(unit(mm), "mm");
  EXPECT_EQ(unit("#1=( NAMED_UNIT ( * )\n LENGTH_UNIT ( ) SI_UNIT ( .CENTI. , .METRE. ) ) ;"), "cm");
  EXPECT_EQ(unit("#1=(length_unit() named_unit(*) si_unit($,.metre.));"), "m");
  EXPECT_EQ(unit(mm + "#2=(CONVERSION_BASED_UNIT('INCH',#3)LENGTH_UNIT()NAMED_UNIT(#4));"), "in");
  EXPECT_EQ(unit(mm + "#2=(CONVERSION_BASED_UNIT('CUBIT',#3)LENGTH_UNIT()NAMED_UNIT(#4));"), "");
  EXPECT_EQ(unit(mm + "#2=(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT($,.METRE.));"), "") << "two of them";
  EXPECT_EQ(unit("/* " + mm + " */ #2=NOTE('a ; LENGTH_UNIT() SI_UNIT($,.METRE.)');"), "");
}

TEST(StepText, WhatIsNoStepFileIsRefusedWithItsLine) {
  const std::string good = "ISO-10303-21;\nHEADER;\nENDSEC;\nEND-ISO-10303-21;\n";
  EXPECT_EQ(look_at_step(good, "m.step").unit_name, "");
  std::string zero = good;
  zero[20] = '\0';
  const std::tuple<std::string, std::string, std::string> all[] = {
      {"", "m.step", "empty"},
      {"solid x\n", "m.step:1", "solid"},
      {" ISO-10303-21;\n", "m.step:1", "the end of the file"},
      {zero, "m.step:2", "zero byte"},
      {good.substr(0, 30), "m.step:4", "the end of the file"},
      {"ISO-10303-21;\nDATA;\n#1=TEXT('never closed;\nEND-ISO-10303-21;\n", "m.step:5", "the end of the file"},
      {"ISO-10303-21;\n/* never closed\nEND-ISO-10303-21;\n", "m.step:4", "the end of the file"},
  };
  int checked = 0;
  for (const auto& [text, where, found] : all) {
    try {
      look_at_step(text, "m.step");
      ADD_FAILURE() << "was taken: " << text;
    } catch (const Error& error) {
      EXPECT_EQ(error.exit_code(), 3);
      EXPECT_EQ(error.fault().where, where);
      EXPECT_NE(error.fault().found.find(found), std::string::npos) << error.what();
      ++checked;
    }
  }
  EXPECT_EQ(checked, 7);
}

TEST_F(Step, SpoiltFilesAreRefusedAndTheNextOneIsRead) {
  const auto write = [&] { write_step(path(), [] { occ::addBox(0, 0, 0, 50, 20, 10); }); };
  write();
  const std::string good = text();
  const std::pair<const char*, const char*> slips[] = {{"CARTESIAN_POINT", "CARTESIAN_POINT(("},
                                                       {"CARTESIAN_POINT", "CARTESIAN_PINT"},  // the library crashes
                                                       {"(0.,0.,0.)", "(0.,0.,x)"},
                                                       {"ENDSEC;\nDATA;", "ENDSEC;"}};
  int refused = 0;
  for (const auto& [from, to] : slips) {
    std::ofstream(path(), std::ios::binary) << good;
    spoil(from, to);
    EXPECT_TRUE(fault().where.starts_with(path())) << from;
    ++refused;
  }
  EXPECT_EQ(refused, 4);
  std::ofstream(path()) << "ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\nENDSEC;\nEND-ISO-10303-21;\n";
  EXPECT_EQ(fault().where.substr(0, path().size()), path());
  write_step(path(), [] { occ::addLine(occ::addPoint(0, 0, 0), occ::addPoint(1, 0, 0)); });
  EXPECT_NE(fault().found.find("no surface"), std::string::npos);
  write();
  EXPECT_TRUE(is_closed(load().mesh)) << "the library is usable after failures";
}

TEST_F(Step, NothingIsPrinted) {
  write_step(path(), [] { occ::addBox(0, 0, 0, 50, 20, 10); });
  testing::internal::CaptureStdout();
  load();
  std::ofstream(path()) << "ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\n#1=;\nENDSEC;\nEND-ISO-10303-21;\n";
  EXPECT_THROW(load(), Error);
  std::printf("end");
  EXPECT_EQ(testing::internal::GetCapturedStdout(), "end");
}

}  // namespace
}  // namespace pellicle::moulds
