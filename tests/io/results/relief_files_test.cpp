// Does a relief on disk say what was answered, in the contract's names and units, and lie on the mould?
#include "io/results/relief_files.h"

#include "io/results/h5.h"
#include "tests/io/results/made_up.h"
#include "tests/io/results/made_up_relief.h"

#include <Eigen/Geometry>
#include <cmath>
#include <regex>

namespace pellicle::results {
namespace {

class ReliefFiles : public Scratch {
 protected:
  h5::Reader written(const ReliefResult& relief) const {
    ResultFolder folder(root_ / "out", false, {});
    write_relief(folder, relief);
    return {read_file(root_ / "out" / "relief_title.h5"), "relief_title.h5"};
  }
};

TEST_F(ReliefFiles, FieldsAndAttributesAreTheAnswerInMillimetresAndMegapascal) {
  const ReliefResult relief = made_up_relief(5, 3);
  const h5::Reader file = written(relief);
  EXPECT_EQ(file.text_attribute("format"), "pellicle-relief");
  EXPECT_EQ(file.attribute<std::int32_t>("format_version"), 1);
  EXPECT_EQ(file.text_attribute("program_version"), PELLICLE_VERSION);
  EXPECT_EQ(file.text_attribute("name"), "title");
  EXPECT_EQ(file.text_attribute("source"), "text");
  EXPECT_EQ(file.text_attribute("state"), "given");
  // Products of a decimal factor: a rounding of the last bit is allowed.
  const std::pair<const char*, double> numbers[] = {
      {"pressure_MPa", 0.4},    {"shear_modulus_MPa", 0.2},  {"thickness_mm", 0.5},
      {"stretch_x", 1.5},       {"stretch_y", 1.2},          {"capture", 0.3},
      {"capture_stick", 0.275}, {"capture_slip", 0.45},      {"depth_stick_mm", 0.11},
      {"depth_slip_mm", 0.18},  {"depth_layer_mm", 0.15},    {"depth_mm", 0.12},
      {"own_depth_mm", 0.4},    {"skin_thickness_mm", 0.05}, {"skin_shear_modulus_MPa", 6.0},
      {"gap_error_mm", 1e-4},   {"worst_stroke_share", 0.3}};
  for (const auto& [name, value] : numbers) EXPECT_DOUBLE_EQ(file.attribute<double>(name), value) << name;
  EXPECT_EQ(file.text_attribute("model"), imprint::model_word(imprint::Model::kSection));
  EXPECT_EQ(file.attribute<std::int8_t>("valid"), 1);
  EXPECT_TRUE(std::isnan(file.attribute<double>("narrowest_formed_mm")));

  EXPECT_FLOAT_EQ(file.dataset<float>("/x_mm")[4], 0.45F);
  EXPECT_FLOAT_EQ(file.dataset<float>("/y_mm")[2], 0.25F);
  for (const char* name : {"/mould_height_mm", "/sheet_height_mm", "/gap_mm", "/contact_pressure_MPa"})
    ASSERT_EQ(file.dataset<float>(name, 5).size(), 15U) << name;
  EXPECT_FLOAT_EQ(file.dataset<float>("/mould_height_mm", 5)[7], -7e-3F);
  EXPECT_FLOAT_EQ(file.dataset<float>("/sheet_height_mm", 5)[7], -5.6e-3F);
  EXPECT_FLOAT_EQ(file.dataset<float>("/gap_mm", 5)[7], 1.4e-3F);
  EXPECT_FLOAT_EQ(file.dataset<float>("/contact_pressure_MPa", 5)[7], 7e-3F);
  EXPECT_FLOAT_EQ(file.dataset<float>("/node/gap_mm")[7], 1.4e-3F);
}

TEST_F(ReliefFiles, AirIsWrittenWhereItIsShutIn) {
  ReliefResult relief = made_up_relief(5, 3);
  {  // one file in memory at a time
    const h5::Reader open = written(relief);
    EXPECT_EQ(open.attribute<double>("closed_hollows"), 0.0);
    EXPECT_EQ(open.attribute<double>("depth_lost_to_air_mm"), 0.0);
  }
  relief.answer.air_pressure_Pa.assign(15, 0.0);
  relief.answer.air_pressure_Pa[7] = 1.5e5;
  relief.answer.hollows.resize(1);
  relief.answer.depth_lost_to_air_m = 0.05e-3;
  ResultFolder folder(root_ / "shut", false, {});
  write_relief(folder, relief);
  const h5::Reader shut{read_file(root_ / "shut" / "relief_title.h5"), "relief_title.h5"};
  EXPECT_EQ(shut.attribute<double>("closed_hollows"), 1.0);
  EXPECT_DOUBLE_EQ(shut.attribute<double>("depth_lost_to_air_mm"), 0.05);
  ASSERT_EQ(shut.dataset<float>("/air_pressure_MPa", 5).size(), 15U);
  EXPECT_FLOAT_EQ(shut.dataset<float>("/air_pressure_MPa", 5)[7], 0.15F);
  EXPECT_FLOAT_EQ(shut.dataset<float>("/node/air_pressure_MPa")[7], 0.15F);
}

TEST_F(ReliefFiles, SurfacesLieOnTheMouldInItsCoordinates) {
  ReliefResult relief = made_up_relief(5, 3);
  relief.carrier = mesh::flat_map(5, 3, 0.1e-3);
  relief.carrier->at(2, 1) = 50e-6;
  const h5::Reader file = written(relief);
  // Cell (2, 1): x = 0.25, y = 0.15 mm on the patch; its height counts from 0.4 mm over a carrier of 0.05 mm.
  const double height_mm = 0.4 + 0.05 - 0.007;
  const double expected_mm[] = {10.0 + 0.8 * 0.25 - 0.6 * height_mm, 20.15, 4.0 + 0.6 * 0.25 + 0.8 * height_mm};
  const auto mould_mm = file.dataset<float>("/mould/points_mm", 3),
             sheet_mm = file.dataset<float>("/sheet/points_mm", 3);
  ASSERT_EQ(mould_mm.size(), 45U);
  for (int k = 0; k < 3; ++k)
    EXPECT_NEAR(mould_mm[static_cast<std::size_t>(3 * 7 + k)], expected_mm[k], 2e-6) << k;  // f32 of 20
  EXPECT_NEAR(sheet_mm[3 * 7 + 2] - mould_mm[3 * 7 + 2], 0.8 * 1.4e-3, 1e-6);
  // The first triangle turns about the normal of the patch, and all corners are points.
  const auto corners = file.dataset<std::int32_t>("/triangles", 3);
  ASSERT_EQ(corners.size(), 3U * 2 * 4 * 2);
  const auto at = [&](int k) {
    const auto i = static_cast<std::size_t>(3 * corners[static_cast<std::size_t>(k)]);
    return mesh::Vec3(mould_mm[i], mould_mm[i + 1], mould_mm[i + 2]);
  };
  EXPECT_GT((at(1) - at(0)).cross(at(2) - at(0)).dot(relief.frame.normal), 0.0);
  for (const std::int32_t c : corners) EXPECT_TRUE(c >= 0 && c < 15);
}

TEST_F(ReliefFiles, TheIndexNamesTwoSurfacesAndOnlyDatasetsThatAreThere) {
  const h5::Reader file = written(made_up_relief(5, 3));
  const std::string index = text_of(root_ / "out" / "relief_title.xdmf");
  EXPECT_NE(index.find("CollectionType=\"Spatial\""), std::string::npos);
  EXPECT_NE(index.find("<Grid Name=\"mould\""), std::string::npos);
  EXPECT_NE(index.find("<Grid Name=\"sheet\""), std::string::npos);
  EXPECT_NE(index.find("Name=\"contact pressure (MPa)\""), std::string::npos);
  const std::regex name(">relief_title\\.h5:([^<]+)<");
  int named = 0;
  for (std::sregex_iterator it(index.begin(), index.end(), name), end; it != end; ++it, ++named)
    EXPECT_TRUE(file.holds((*it)[1].str().c_str())) << (*it)[1];
  EXPECT_EQ(named, 8);  // triangles, points and two fields of each
}

TEST_F(ReliefFiles, AProfileHasOneRowAndIsDrawnAsARibbonOrTurnedRound) {
  for (const auto kind : {mesh::Profile::Kind::kStrip, mesh::Profile::Kind::kRound}) {
    ReliefResult relief = made_up_relief(6, 1);
    relief.spec.source = imprint::ProfileRelief{"groove.csv", kind};
    relief.frame = {};
    ResultFolder folder(root_ / "out", true, {});
    write_relief(folder, relief);
    const h5::Reader file(read_file(root_ / "out" / "relief_title.h5"), "relief_title.h5");
    EXPECT_EQ(file.text_attribute("source"), "profile");
    EXPECT_EQ(file.dataset<float>("/y_mm").size(), 1U);
    EXPECT_EQ(file.dataset<float>("/gap_mm", 6).size(), 6U);
    const auto points_mm = file.dataset<float>("/sheet/points_mm", 3);
    const std::size_t rows = points_mm.size() / 3 / 6;
    EXPECT_EQ(rows, kind == mesh::Profile::Kind::kStrip ? 2U : 49U);
    EXPECT_EQ(file.dataset<float>("/node/gap_mm").size(), 6 * rows);
    for (std::size_t row = 0; row < rows; ++row) {
      const float* p = &points_mm[3 * (6 * row + 4)];
      if (kind == mesh::Profile::Kind::kRound) {
        EXPECT_NEAR(std::hypot(p[0], p[1]), 0.45, 1e-6);
      }
      EXPECT_NEAR(p[2], 0.4 - 4e-3 + 0.8e-3, 1e-6);
    }
  }
}

TEST_F(ReliefFiles, AnAnswerWithAMissingValueIsABrokenPromise) {
  ReliefResult relief = made_up_relief(5, 3);
  relief.answer.gap_m.pop_back();
  ResultFolder folder(root_ / "out", false, {});
  EXPECT_THROW(write_relief(folder, relief), std::logic_error);
  EXPECT_FALSE(std::filesystem::exists(root_ / "out"));
}

TEST_F(ReliefFiles, AWideMapComesBackWholeAndTheSameEachTime) {
  const ReliefResult relief = made_up_relief(700, 300);  // chunks of 93 rows
  // One file in memory at a time: this one is closed before the next is written.
  const std::vector<float> gap_mm = written(relief).dataset<float>("/gap_mm", 700);
  ASSERT_EQ(gap_mm.size(), relief.answer.gap_m.size());
  for (std::size_t c = 0; c < gap_mm.size(); ++c)
    ASSERT_EQ(gap_mm[c], static_cast<float>(1e3 * relief.answer.gap_m[c])) << c;
  const std::string once = text_of(root_ / "out" / "relief_title.h5");
  ResultFolder again(root_ / "again", false, {});
  write_relief(again, relief);
  EXPECT_TRUE(once == text_of(root_ / "again" / "relief_title.h5"));
}

}  // namespace
}  // namespace pellicle::results
