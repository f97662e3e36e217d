// Does a frame on disk say what the solver said, in the contract's names and units? Read back with HDF5 itself.
#include "io/results/frames.h"

#include "io/results/h5.h"
#include "tests/io/results/made_up.h"

#include <fmt/format.h>

#include <cmath>
#include <limits>
#include <regex>
#include <set>

namespace pellicle::results {
namespace {

class Frames : public Scratch {};

TEST_F(Frames, DatasetsHoldTheFrameInMillimetresAndMegapascal) {
  const MadeUp sheet(3, 2e-3);
  ResultFolder folder(root_ / "out", false, {});
  FrameWriter frames(folder);
  frames.write(sheet.frame(0, 0.0));
  const h5::Reader file(read_file(root_ / "out" / "sheet_0000.h5"), "sheet_0000.h5");
  EXPECT_EQ(file.text_attribute("format"), "pellicle-sheet");
  EXPECT_EQ(file.attribute<std::int32_t>("format_version"), 1);
  EXPECT_EQ(file.text_attribute("program_version"), PELLICLE_VERSION);
  EXPECT_EQ(file.attribute<double>("time_s"), 0.0);
  EXPECT_EQ(file.text_attribute("stage"), "");
  // Products of a decimal factor: a rounding of the last bit is allowed.
  EXPECT_DOUBLE_EQ(file.attribute<double>("pressure_MPa"), 0.4);
  EXPECT_DOUBLE_EQ(file.attribute<double>("swept_volume_mm3"), 1500.0);

  const auto points_mm = file.dataset<float>("/points_mm", 3);
  ASSERT_EQ(points_mm.size(), 3 * sheet.points_m.size());
  EXPECT_FLOAT_EQ(points_mm[3 * 5 + 0], static_cast<float>(1e3 * sheet.points_m[5].x()));
  EXPECT_FLOAT_EQ(points_mm[3 * 5 + 2], static_cast<float>(1e3 * sheet.points_m[5].z()));
  const auto corners = file.dataset<std::int32_t>("/triangles", 3);
  ASSERT_EQ(corners.size(), 3 * sheet.triangles.size());
  EXPECT_EQ(corners[7], sheet.triangles[2][1]);
  EXPECT_FLOAT_EQ(file.dataset<float>("/node/flat_mm", 2)[2 * 6 + 1], 1.0F);
  EXPECT_FLOAT_EQ(file.dataset<float>("/node/thickness_mm")[4], 0.504F);
  EXPECT_FLOAT_EQ(file.dataset<float>("/node/stretch_1")[4], 0.504e-3F);
  EXPECT_FLOAT_EQ(file.dataset<float>("/node/contact_pressure_MPa")[4], 0.504e-9F);
  EXPECT_FLOAT_EQ(file.dataset<float>("/node/gap_mm")[0], -1e-3F);
  EXPECT_FLOAT_EQ(file.dataset<float>("/node/temperature_C")[0], 140.0F);
  EXPECT_TRUE(std::isnan(file.dataset<float>("/node/touched_s").front()));
  EXPECT_FLOAT_EQ(file.dataset<float>("/node/touched_s").back(), 0.25F);
  EXPECT_TRUE(std::isnan(file.dataset<float>("/node/finest_radius_mm").front()));
  for (const char* width : {"0.2", "0.5", "1.0"}) {
    const auto depth_mm = file.dataset<float>(fmt::format("/node/capture_depth_{}mm_stroke_mm", width).c_str());
    EXPECT_FLOAT_EQ(depth_mm.back(), 0.4F) << width;
  }
  EXPECT_FLOAT_EQ(file.dataset<float>("/triangle/thickness_mm")[2], 0.502F);
  EXPECT_FLOAT_EQ(file.dataset<float>("/triangle/wrinkle")[1], 0.1F);
}

TEST_F(Frames, PocketsAreThereOnlyWhereAirIsFollowed) {
  const MadeUp sheet(3, 2e-3);
  ResultFolder folder(root_ / "out", false, {});
  FrameWriter frames(folder);
  frames.write(sheet.frame(0, 0.0));
  std::vector<double> pocket(sheet.points_m.size(), -1.0), pressure_Pa(sheet.points_m.size(), 0.0);
  pocket[5] = 3.0, pressure_Pa[5] = 2.5e5;
  forming::Frame with_air = sheet.frame(1, 0.1);
  with_air.pocket = pocket, with_air.pocket_pressure_Pa = pressure_Pa;
  frames.write(with_air);
  EXPECT_FALSE(h5::Reader(read_file(root_ / "out" / "sheet_0000.h5"), "0").holds("/node/pocket"));
  const h5::Reader file(read_file(root_ / "out" / "sheet_0001.h5"), "1");
  EXPECT_EQ(file.dataset<float>("/node/pocket")[5], 3.0F);
  EXPECT_EQ(file.dataset<float>("/node/pocket")[4], -1.0F);
  EXPECT_FLOAT_EQ(file.dataset<float>("/node/pocket_pressure_MPa")[5], 0.25F);
  EXPECT_NE(read_file(root_ / "out" / "sheet.xdmf").find("pocket pressure (MPa)"), std::string::npos);
}

TEST_F(Frames, LayerLinesAreThereOnlyWhereTheFrameHasThem) {
  const MadeUp sheet(3, 2e-3);
  forming::Frame with_lines = sheet.frame(1, 0.1);
  with_lines.layer_line_m = sheet.per_node;
  with_lines.layer_line_free_face_m = sheet.gap_m;
  ResultFolder folder(root_ / "out", false, {});
  FrameWriter frames(folder);
  frames.write(sheet.frame(0, 0.0));
  frames.write(with_lines);
  {  // one reader at a time: HDF5 takes two images for one file
    const h5::Reader without(read_file(root_ / "out" / "sheet_0000.h5"), "sheet_0000.h5");
    EXPECT_FALSE(without.holds("/node/layer_line_um"));
  }
  const h5::Reader with(read_file(root_ / "out" / "sheet_0001.h5"), "sheet_0001.h5");
  EXPECT_FLOAT_EQ(with.dataset<float>("/node/layer_line_um")[4], 504.0F);
  EXPECT_FLOAT_EQ(with.dataset<float>("/node/layer_line_free_face_um")[0], -1.0F);
  const std::string index = text_of(root_ / "out" / "sheet.xdmf");
  EXPECT_EQ(index.find("sheet_0000.h5:/node/layer_line"), std::string::npos);
  EXPECT_NE(index.find("sheet_0001.h5:/node/layer_line_free_face_um"), std::string::npos);
  EXPECT_EQ(readable_name("/node/layer_line_free_face_um", false), "layer line free face (um)");
}

TEST_F(Frames, ShrinkageIsInPercentAndOnlyWhereTheFrameHasIt) {
  const MadeUp sheet(3, 2e-3);
  forming::Frame last = sheet.frame(1, 0.1);
  const std::vector<double> share(sheet.per_node.size(), 0.004);
  last.shrinkage = share;
  ResultFolder folder(root_ / "out", false, {});
  FrameWriter frames(folder);
  frames.write(sheet.frame(0, 0.0));
  frames.write(last);
  const h5::Reader with(read_file(root_ / "out" / "sheet_0001.h5"), "sheet_0001.h5");
  EXPECT_FLOAT_EQ(with.dataset<float>("/node/shrinkage_percent")[2], 0.4F);
  const std::string index = text_of(root_ / "out" / "sheet.xdmf");
  EXPECT_EQ(index.find("sheet_0000.h5:/node/shrinkage"), std::string::npos);
  EXPECT_NE(index.find("shrinkage (percent)"), std::string::npos);
}

TEST_F(Frames, SameContentGivesTheSameBytes) {
  const MadeUp sheet(40, 2e-3);
  for (const char* name : {"one", "two"}) {
    ResultFolder folder(root_ / name, false, {});
    FrameWriter(folder).write(sheet.frame(0, 0.0));
  }
  const std::string one = text_of(root_ / "one" / "sheet_0000.h5");
  EXPECT_GT(one.size(), 1000U);
  EXPECT_TRUE(one == text_of(root_ / "two" / "sheet_0000.h5"));
}

TEST_F(Frames, ListsLongerThanAChunkComeBackWhole) {
  const MadeUp sheet(200, 2e-3);  // 40,401 nodes: three chunks
  ResultFolder folder(root_ / "out", false, {});
  FrameWriter(folder).write(sheet.frame(0, 0.0));
  const h5::Reader file(read_file(root_ / "out" / "sheet_0000.h5"), "sheet_0000.h5");
  const auto thickness_mm = file.dataset<float>("/node/thickness_mm");
  ASSERT_EQ(thickness_mm.size(), sheet.per_node.size());
  for (std::size_t i = 0; i < thickness_mm.size(); ++i) {
    ASSERT_EQ(thickness_mm[i], static_cast<float>(1e3 * sheet.per_node[i])) << i;
  }
}

TEST_F(Frames, IndexNamesEveryFrameWithItsOwnTimeAndOnlyFilesThatAreThere) {
  ResultFolder folder(root_ / "out", false, {});
  FrameWriter frames(folder);
  for (int k = 0; k < 5; ++k) {
    const MadeUp sheet(3 + k, 1e-3 * k);  // the mesh may change between frames
    frames.write(sheet.frame(k, 0.125 * k));
    const std::string index = text_of(root_ / "out" / "sheet.xdmf");
    std::set<std::string> files;
    const std::regex name(">([^<:]+\\.h5):");
    for (std::sregex_iterator it(index.begin(), index.end(), name), end; it != end; ++it) files.insert((*it)[1]);
    EXPECT_EQ(files.size(), static_cast<std::size_t>(k) + 1);
    for (const std::string& file : files) EXPECT_TRUE(std::filesystem::exists(root_ / "out" / file)) << file;
    EXPECT_NE(index.find(fmt::format("<Time Value=\"{}\"/>", 0.125 * k)), std::string::npos);
  }
  for (const auto& entry : std::filesystem::directory_iterator(root_ / "out")) {
    EXPECT_NE(entry.path().extension(), ".tmp");
  }
}

TEST_F(Frames, NamesForPeople) {
  EXPECT_EQ(readable_name("/node/thickness_mm", false), "thickness (mm)");
  EXPECT_EQ(readable_name("/triangle/thickness_mm", true), "thickness (mm) per triangle");
  EXPECT_EQ(readable_name("/triangle/wrinkle", true), "wrinkle per triangle");
  EXPECT_EQ(readable_name("/triangle/draft_deg", true), "draft (deg) per triangle");
  EXPECT_EQ(readable_name("/node/stretch_1", false), "stretch 1");
  EXPECT_EQ(readable_name("/node/contact_pressure_MPa", false), "contact pressure (MPa)");
  EXPECT_EQ(readable_name("/node/touched_s", false), "touched (s)");
  EXPECT_EQ(readable_name("/node/temperature_C", false), "temperature (C)");
  EXPECT_EQ(readable_name("/node/capture_depth_0.2mm_stroke_mm", false), "capture depth 0.2mm stroke (mm)");
}

TEST_F(Frames, AFrameWithAMissingValueIsABrokenPromise) {
  MadeUp sheet(3, 2e-3);
  sheet.gap_m.pop_back();
  ResultFolder folder(root_ / "out", false, {});
  EXPECT_THROW(FrameWriter(folder).write(sheet.frame(0, 0.0)), std::logic_error);
  EXPECT_FALSE(std::filesystem::exists(root_ / "out"));
}

TEST_F(Frames, MouldIsWrittenOnceUnderItsName) {
  const MadeUp shape(4, 3e-3);
  ResultFolder folder(root_ / "out", false, {});
  write_mould(folder, {shape.points_m, shape.triangles});
  const h5::Reader file(read_file(root_ / "out" / "mould.h5"), "mould.h5");
  EXPECT_EQ(file.text_attribute("format"), "pellicle-mould");
  EXPECT_EQ(file.dataset<float>("/points_mm", 3).size(), 3 * shape.points_m.size());
  EXPECT_NE(text_of(root_ / "out" / "mould.xdmf").find("Grid Name=\"mould\""), std::string::npos);
}

TEST_F(Frames, MouldMayBeWrittenAgainWithFieldsOfItsTriangles) {
  const MadeUp shape(4, 3e-3);
  const mesh::TriangleMesh mould{shape.points_m, shape.triangles};
  ResultFolder folder(root_ / "out", false, {});
  write_mould(folder, mould);
  std::vector<double> draft(mould.triangles.size(), 3.5);
  draft.back() = std::numeric_limits<double>::quiet_NaN();
  const std::vector<TriangleField> fields{{"draft_deg", draft}};
  write_mould(folder, mould, fields);
  const h5::Reader file(read_file(root_ / "out" / "mould.h5"), "mould.h5");
  const std::vector<float> read = file.dataset<float>("/triangle/draft_deg");
  ASSERT_EQ(read.size(), mould.triangles.size());
  EXPECT_EQ(read.front(), 3.5F);
  EXPECT_TRUE(std::isnan(read.back()));
  const std::string index = text_of(root_ / "out" / "mould.xdmf");
  EXPECT_NE(index.find("draft (deg) per triangle"), std::string::npos);
  draft.pop_back();
  const std::vector<TriangleField> too_few{{"draft_deg", draft}};
  EXPECT_THROW(write_mould(folder, mould, too_few), std::logic_error);
}

}  // namespace
}  // namespace pellicle::results
