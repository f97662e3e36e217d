// Each kind of source of a case becomes heights or a profile of the size and grid asked for.
#include "io/reliefs/load.h"

#include "mesh/check.h"
#include "tests/io/reliefs/png_file.h"

#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <string>

namespace pellicle::reliefs {
namespace {

namespace fs = std::filesystem;
using imprint::ReliefSpec;
using mesh::Vec2;

class LoadRelief : public testing::Test {
 protected:
  void SetUp() override {
    folder_ = fs::path(testing::TempDir()) /
              (std::string("pellicle_relief_") + testing::UnitTest::GetInstance()->current_test_info()->name());
    fs::create_directories(folder_);
  }
  void TearDown() override { fs::remove_all(folder_); }
  std::string file(const std::string& name, const std::string& bytes) const {
    std::ofstream(folder_ / name, std::ios::binary) << bytes;
    return (folder_ / name).string();
  }
  fs::path folder_;
};

ReliefSpec spec(imprint::ReliefSource source, double grid_m) {
  ReliefSpec out;
  out.name = "leaf";
  out.source = std::move(source);
  out.grid_m = grid_m;
  return out;
}

const mesh::HeightMap& map_of(const Relief& relief) { return std::get<mesh::HeightMap>(relief.shape); }

Fault fault_of(const ReliefSpec& s) {
  try {
    load_relief(s);
  } catch (const Error& error) {
    return error.fault();
  }
  ADD_FAILURE() << "was taken";
  return {};
}

TEST_F(LoadRelief, TextAndBrailleBringTheirCharacters) {
  const ReliefSpec text = spec(imprint::TextRelief{"Basil", "", 6e-3, 0.4e-3}, 0.05e-3);
  const Relief letters = load_relief(text);
  EXPECT_EQ(letters.glyphs.size(), 5U);
  EXPECT_EQ(mesh::highest_m(map_of(letters)), 0.4e-3);
  EXPECT_EQ(map_of(letters).spacing_m, 0.05e-3);
  ReliefSpec braille = spec(imprint::BrailleRelief{"basil", 0.6e-3}, 0.02e-3);
  braille.size_m = Vec2(40e-3, 8e-3);
  const Relief dots = load_relief(braille);
  EXPECT_EQ(dots.glyphs.size(), 5U);
  EXPECT_EQ(mesh::highest_m(map_of(dots)), 0.6e-3);
  EXPECT_EQ(map_of(dots).nx, 2000);
  EXPECT_EQ(map_of(dots).ny, 400);
}

TEST_F(LoadRelief, AnImageIsItsPixelsOrAnotherGridOrInAFrame) {
  std::vector<std::uint16_t> greys;
  for (int j = 0; j < 40; ++j) {
    for (int i = 0; i < 60; ++i) greys.push_back(static_cast<std::uint16_t>(1000 * i));
  }
  const std::string path = file("leaf.png", grey16(60, 40, greys));
  ReliefSpec s = spec(imprint::ImageRelief{path, 0.05e-3, 0.3e-3}, 0.05e-3);
  const mesh::HeightMap own = map_of(load_relief(s));
  EXPECT_EQ(own.nx, 60);
  EXPECT_EQ(own.ny, 40);
  s.grid_m = 0.02e-3;
  const mesh::HeightMap finer = map_of(load_relief(s));
  EXPECT_EQ(finer.nx, 150);
  EXPECT_EQ(finer.ny, 100);
  for (const double x_m : {0.5e-3, 1.234e-3, 2.5e-3}) {
    EXPECT_NEAR(mesh::height_at(finer, x_m, 1e-3), mesh::height_at(own, x_m, 1e-3), 1e-15);  // a ramp: rounding
  }
  s.grid_m = 0.0501e-3;  // as many cells, another spacing: the ramp keeps its slope
  const mesh::HeightMap wider = map_of(load_relief(s));
  EXPECT_EQ(wider.nx, 60);
  EXPECT_NEAR(wider.at(40, 20) - wider.at(20, 20), 1.002 * (own.at(40, 20) - own.at(20, 20)), 1e-15);
  s.grid_m = 0.05e-3;
  s.size_m = Vec2(5e-3, 4e-3);
  const mesh::HeightMap in_frame = map_of(load_relief(s));
  EXPECT_EQ(in_frame.nx, 100);
  EXPECT_EQ(in_frame.ny, 80);
  EXPECT_NEAR(mesh::volume_m3(in_frame), mesh::volume_m3(own), 1e-12 * mesh::volume_m3(own));
  EXPECT_EQ(in_frame.at(20 + 59, 20), own.at(59, 0));
  EXPECT_EQ(in_frame.at(0, 0), 0.0);
  s.periodic = true;
  EXPECT_NE(fault_of(s).found.find("a periodic image of 3 x 2 mm in a patch of 5 x 4 mm"), std::string::npos);
  EXPECT_EQ(fault_of(s).where, "relief 'leaf', source");
  s.size_m = Vec2(3e-3, 2e-3);
  EXPECT_TRUE(map_of(load_relief(s)).periodic);
  s.grid_m = 0.07e-3;
  EXPECT_NE(fault_of(s).found.find("a period of 3 x 2 mm on a grid of 0.07 mm"), std::string::npos);
  s.periodic = false;
  s.size_m = Vec2(2e-3, 2e-3);
  EXPECT_NE(fault_of(s).found.find("image of 3 x 2 mm in a patch of 2 x 2 mm"), std::string::npos);
}

// A sharp step of 0.4 mm: a square of 0.1 mm makes it a slope as long, 0.04 mm high in each 0.01 mm, and whole layers
// of 0.1 mm make four stairs of that.
TEST_F(LoadRelief, PrintedIsRoundedBlurredAndInLayers) {
  ReliefSpec text = spec(imprint::TextRelief{"I", "", 6e-3, 0.4e-3}, 0.01e-3);
  const mesh::HeightMap drawn = map_of(load_relief(text));
  text.printed.pixel_m = 0.1e-3;
  const mesh::HeightMap blurred = map_of(load_relief(text));
  EXPECT_EQ(blurred.height_m, mesh::blurred(drawn, 0.1e-3).height_m);
  EXPECT_NE(blurred.height_m, drawn.height_m);
  text.printed.layer_m = 0.1e-3;
  const mesh::HeightMap layered = map_of(load_relief(text));
  int between = 0;
  for (const double z : layered.height_m) {
    const double layers = z / 0.1e-3;
    EXPECT_NEAR(layers, std::round(layers), 1e-9);
    between += z > 0.05e-3 && z < 0.35e-3;
  }
  EXPECT_GT(between, 0);
  text.printed = {.edge_radius_m = 0.1e-3};
  EXPECT_EQ(map_of(load_relief(text)).height_m, mesh::with_round_edges(drawn, 0.1e-3).height_m);
}

TEST_F(LoadRelief, AProfileIsNotPutOnAGrid) {
  const std::string path = file("groove.csv", "x_mm,z_mm\n0,0\n0.2,-0.4\n0.4,0\n");
  ReliefSpec s = spec(imprint::ProfileRelief{path, mesh::Profile::Kind::kStrip}, 0.02e-3);
  EXPECT_EQ(std::get<mesh::Profile>(load_relief(s).shape).z_m[1], -0.4e-3);
  s.source = imprint::ProfileRelief{file("bad.csv", "x_mm,z_mm\n0,0\nfour,1\n"), mesh::Profile::Kind::kStrip};
  EXPECT_EQ(fault_of(s).where, (folder_ / "bad.csv").string() + ":3");
}

TEST_F(LoadRelief, FilesThatCannotBeReadAreNamed) {
  ReliefSpec s = spec(imprint::ImageRelief{(folder_ / "none.png").string(), 0.05e-3, 0.3e-3}, 0.05e-3);
  EXPECT_EQ(fault_of(s).where, (folder_ / "none.png").string());
  s.source = imprint::ProfileRelief{folder_.string(), mesh::Profile::Kind::kStrip};
  EXPECT_NE(fault_of(s).found.find("no plain file"), std::string::npos);
  s.source = imprint::TextRelief{"Basil", file("font.ttf", "no font"), 6e-3, 0.4e-3};
  EXPECT_EQ(fault_of(s).where, (folder_ / "font.ttf").string());
  s.source = imprint::ProfileRelief{file("long.csv", std::string(16'000'001, ' ')), mesh::Profile::Kind::kStrip};
  EXPECT_EQ(fault_of(s).found, "16.0 MB");
}

TEST_F(LoadRelief, CharactersBecomeLabelsInMetresAndRepeatedOnesAreTold) {
  const ReliefSpec text = spec(imprint::TextRelief{"ANNA", "", 6e-3, 0.4e-3}, 0.05e-3);
  ReliefSpec mould = spec(imprint::MouldRelief{}, 0.05e-3);
  const std::vector<ReliefShape> shapes = load_reliefs({text, mould});
  ASSERT_EQ(shapes.size(), 2U);
  EXPECT_FALSE(shapes[1].shape) << "what the mould shows is not known here";
  std::string names;
  for (const imprint::Label& label : shapes[0].labels) names += label.name + ' ';
  EXPECT_EQ(names, "A N N (2) A (2) ");
  const auto& map = std::get<mesh::HeightMap>(*shapes[0].shape);
  double before_m = 0.0;
  for (const imprint::Label& label : shapes[0].labels) {
    // Every box holds ink up to its edges: its middle row has some, and it is as high as a capital and its edge cells.
    EXPECT_GT(label.box_m[0], before_m);
    EXPECT_LT(label.box_m[2], map.spacing_m * map.nx);
    EXPECT_NEAR(label.box_m[3] - label.box_m[1], 6e-3, 0.1e-3);
    before_m = label.box_m[0];
  }
}

}  // namespace
}  // namespace pellicle::reliefs
