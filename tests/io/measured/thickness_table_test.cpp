// Is a table of measured walls read as it was meant, and a slip told with its line?
#include "io/measured/thickness_table.h"

#include "mesh/check.h"

#include <gtest/gtest.h>

namespace pellicle::measured {
namespace {

TEST(ThicknessTable, UnitsStandInTheNamesOfTheColumns) {
  const auto points = read_thickness_table(
      "# part 3\nthickness_um,x_mm,y_cm,z_in,name,thickness_error_mm\n"
      "420,10,-2,0.5,top edge,0.01\n\n500,1,1,0,,\n",
      "t.csv");
  ASSERT_EQ(points.size(), 2U);
  EXPECT_DOUBLE_EQ(points[0].thickness_m, 0.42e-3);
  ASSERT_TRUE(points[0].at_m);
  EXPECT_DOUBLE_EQ(points[0].at_m->x(), 10e-3);
  EXPECT_DOUBLE_EQ(points[0].at_m->y(), -20e-3);
  EXPECT_DOUBLE_EQ(points[0].at_m->z(), 12.7e-3);
  EXPECT_DOUBLE_EQ(points[0].error_m, 0.01e-3);
  EXPECT_EQ(points[0].name, "top edge");
  EXPECT_EQ(points[0].place, "t.csv:3");
  EXPECT_FALSE(points[0].flat_m);
  EXPECT_EQ(points[1].error_m, kThicknessError_m);
  EXPECT_EQ(points[1].place, "t.csv:5");
}

TEST(ThicknessTable, AMarkOnTheFlatSheetIsAPlaceToo) {
  const auto marks = read_thickness_table("flat_x_mm,flat_y_mm,thickness_mm\n3,4,0.5\n", "t.csv");
  EXPECT_FALSE(marks.at(0).at_m);
  EXPECT_DOUBLE_EQ(marks.at(0).flat_m->y(), 4e-3);
  EXPECT_EQ(marks.at(0).error_m, kThicknessError_m);
  const auto both = read_thickness_table("flat_x_mm,flat_y_mm,thickness_mm,x_mm,y_mm,z_mm\n3,4,0.5,1,2,3\n", "t.csv");
  EXPECT_TRUE(both.at(0).at_m && both.at(0).flat_m);
}

TEST(ThicknessTable, SlipsAreToldWithTheirLine) {
  struct Slip {
    const char *text, *line, *words;
  };
  int told = 0;
  for (const Slip& slip :
       {Slip{"", "t.csv: ", "no measured point"}, Slip{"x_mm,y_mm,z_mm,thickness_mm\n", "t.csv:1", "no measured point"},
        Slip{"x_mm,y_mm,z_mm,thicknes_mm\n", "t.csv:1", "Did you mean thickness_mm"},
        Slip{"x,y_mm,z_mm,thickness_mm\n", "t.csv:1", "unknown column \"x\""},
        Slip{"x_bar,y_mm,z_mm,thickness_mm\n", "t.csv:1", "x_bar"},
        Slip{"x_mm,x_cm,z_mm,thickness_mm\n", "t.csv:1", "twice"},
        Slip{"x_mm,y_mm,thickness_mm\n", "t.csv:1", "no place"}, Slip{"thickness_mm\n0.4\n", "t.csv:1", "no place"},
        Slip{"x_mm,y_mm,z_mm,flat_x_mm,thickness_mm\n", "t.csv:1", "half a place"},
        Slip{"x_mm,y_mm,z_mm\n1,2,3\n", "t.csv:1", "no column thickness_mm"},
        Slip{"x_mm,y_mm,z_mm,thickness_mm\n1,2,3\n", "t.csv:2", "3 cells"},
        Slip{"x_mm,y_mm,z_mm,thickness_mm\n1,2,3,thin\n", "t.csv:2", "\"thin\" as thickness_mm"},
        Slip{"x_mm,y_mm,z_mm,thickness_mm\n#\n1,2,,0.4\n", "t.csv:3", "empty z_mm"},
        Slip{"x_mm,y_mm,z_mm,thickness_mm\n1,2,3,-0.4\n", "t.csv:2", "thickness_mm of -0.4"},
        Slip{"x_mm,y_mm,z_mm,thickness_mm\n1,2,3,420\n", "t.csv:2", "0.001 to 20"},
        Slip{"x_m,y_mm,z_mm,thickness_mm\n12,2,3,0.4\n", "t.csv:2", "-2 to 2"},
        Slip{"x_mm,y_mm,z_mm,thickness_mm\n1,2,nan,0.4\n", "t.csv:2", "z_mm"},
        Slip{"x_mm,y_mm,z_mm,thickness_mm,thickness_error_mm\n1,2,3,0.4,0.4\n", "t.csv:2",
             "smaller than the thickness"}}) {
    try {
      read_thickness_table(slip.text, "t.csv");
      ADD_FAILURE() << slip.text;
    } catch (const Error& error) {
      EXPECT_EQ(error.exit_code(), 2);
      EXPECT_NE(std::string(error.what()).find(slip.line), std::string::npos) << error.what();
      EXPECT_NE(std::string(error.what()).find(slip.words), std::string::npos) << error.what();
      ++told;
    }
  }
  EXPECT_EQ(told, 18);
}

TEST(ThicknessTable, AMissingFileIsToldByName) {
  try {
    load_thickness_table("nowhere.csv");
    FAIL();
  } catch (const Error& error) {
    EXPECT_NE(std::string(error.what()).find("nowhere.csv: found no such file"), std::string::npos) << error.what();
  }
}

}  // namespace
}  // namespace pellicle::measured
