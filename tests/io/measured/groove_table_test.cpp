// Is a table of grooves read as it was meant, and a slip told with its line?
#include "io/measured/groove_table.h"

#include "mesh/check.h"

#include <gtest/gtest.h>

namespace pellicle::measured {
namespace {

constexpr GrooveDefaults kDefaults{0.9e-3, 3e5};

TEST(GrooveTable, ColumnsComeInAnyOrderAndMayBeEmpty) {
  const auto grooves = read_groove_table(
      "\xEF\xBB\xBF# coupon 3\r\ndepth_mm, "
      "width_mm,stretch_across,floor_mm,pressure_bar,depth_error_mm,edge_radius_mm\r\n"
      "0.1,0.5,1.2,0.75,4,0.02,0.03\r\n\r\n0.006,0.4,,,,,\n",
      "t.csv", kDefaults);
  ASSERT_EQ(grooves.size(), 2U);
  const fit::Groove &full = grooves[0], &bare = grooves[1];
  EXPECT_DOUBLE_EQ(full.depth_m, 0.1e-3);
  EXPECT_DOUBLE_EQ(full.width_m, 0.5e-3);
  EXPECT_DOUBLE_EQ(full.thickness_m, 0.75e-3);  // gauge over both stretches
  EXPECT_DOUBLE_EQ(full.floor_m, 0.75e-3);
  EXPECT_DOUBLE_EQ(full.pressure_Pa, 4e5);
  EXPECT_DOUBLE_EQ(full.depth_error_m, 0.02e-3);
  EXPECT_DOUBLE_EQ(full.edge_radius_m, 0.03e-3);
  EXPECT_DOUBLE_EQ(bare.thickness_m, 0.9e-3);
  EXPECT_DOUBLE_EQ(bare.pressure_Pa, 3e5);
  EXPECT_DOUBLE_EQ(bare.depth_error_m, 0.003e-3);  // half the depth: less than the usual 0.01 mm
  EXPECT_EQ(bare.edge_radius_m, 0.0);
  EXPECT_GT(bare.floor_m, 1e9);
}

TEST(GrooveTable, SlipsAreToldWithTheirLine) {
  struct Slip {
    const char *text, *line, *words;
  };
  int told = 0;
  for (const Slip& slip : {Slip{"", "t.csv: ", "no groove"}, Slip{"# nothing\n", "t.csv: ", "no groove"},
                           Slip{"width_mm,depth_mm\n", "t.csv:1", "no groove"},
                           Slip{"width_mm,dept_mm\n", "t.csv:1", "Did you mean depth_mm"},
                           Slip{"width_mm\n1\n", "t.csv:1", "no column depth_mm"},
                           Slip{"width_mm,depth_mm,depth_mm\n", "t.csv:1", "twice"},
                           Slip{"width_mm,depth_mm\n0.5\n", "t.csv:2", "1 cells"},
                           Slip{"width_mm;depth_mm\n0,5;0,1\n", "t.csv:1", "columns a comma"},
                           Slip{"width_mm,depth_mm\n0.5,deep\n", "t.csv:2", "\"deep\" as depth_mm"},
                           Slip{"width_mm,depth_mm\n0.5,-1\n", "t.csv:2", "depth_mm of -1"},
                           Slip{"width_mm,depth_mm\n0.5,nan\n", "t.csv:2", "depth_mm"},
                           Slip{"width_mm,depth_mm\n,0.1\n", "t.csv:2", "empty width_mm"},
                           Slip{"width_mm,depth_mm,depth_error_mm\n0.5,0.1,0.1\n", "t.csv:2", "smaller than"}}) {
    try {
      read_groove_table(slip.text, "t.csv", kDefaults);
      ADD_FAILURE() << slip.words << " was taken";
    } catch (const Error& error) {
      EXPECT_EQ(error.exit_code(), 2);
      EXPECT_NE(std::string(error.what()).find(slip.line), std::string::npos) << error.what();
      EXPECT_NE(std::string(error.what()).find(slip.words), std::string::npos) << error.what();
      ++told;
    }
  }
  EXPECT_EQ(told, 13);
  EXPECT_THROW(read_groove_table("width_mm,depth_mm\n0.5,0.1\n", "t.csv", {0.9e-3, {}}), Error);
  EXPECT_THROW(load_groove_table("/nowhere/grooves.csv", kDefaults), Error);
}

}  // namespace
}  // namespace pellicle::measured
