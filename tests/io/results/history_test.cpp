// Does history.csv hold the contract's columns in the contract's units?
#include "io/results/history.h"

#include "tests/io/results/made_up.h"

namespace pellicle::results {
namespace {

class HistoryFile : public Scratch {
 protected:
  static forming::HistoryRow row() {
    return {7,    0.125, "press", 4e5,  1.5e-6, 0.0205, 0.61e-3,
            0.25, 1.0,   2.0,     3.0,  4.0,    5.0,    6.0,
            7.0,  8.0,   9.0,     10.0, 11.0,   12.0,   std::numeric_limits<double>::quiet_NaN()};
  }
};

TEST_F(HistoryFile, ColumnsUnitsAndEmptyCells) {
  ResultFolder folder(root_ / "out", false, {});
  History history(folder);
  history.add(row());
  history.save();
  EXPECT_EQ(text_of(root_ / "out" / "history.csv"),
            "step,time_s,stage,pressure_MPa,swept_volume_mm3,apex_mm,min_thickness_mm,contact_share,kinetic_J,"
            "strain_J,gas_work_J,friction_J,damping_J,contact_J,clamp_work_J,gravity_J,air_J,viscous_J,thermal_J,"
            "mass_change_J,balance\n"
            "7,0.125,press,0.4,1500,20.5,0.61,0.25,1,2,3,4,5,6,7,8,9,10,11,12,\n");
}

TEST_F(HistoryFile, StageNamesAreQuotedWhereTheyMust) {
  ResultFolder folder(root_ / "out", false, {});
  History history(folder);
  forming::HistoryRow odd = row();
  odd.stage = "press, \"hard\"";
  history.add(odd);
  history.save();
  EXPECT_NE(text_of(root_ / "out" / "history.csv").find("7,0.125,\"press, \"\"hard\"\"\",0.4"), std::string::npos);
}

TEST_F(HistoryFile, EachSaveIsWhole) {
  ResultFolder folder(root_ / "out", false, {});
  History history(folder);
  for (int k = 0; k < 3; ++k) {
    history.add(row());
    history.save();
    const std::string text = text_of(root_ / "out" / "history.csv");
    EXPECT_EQ(std::count(text.begin(), text.end(), '\n'), k + 2);
    EXPECT_EQ(text.back(), '\n');
  }
}

}  // namespace
}  // namespace pellicle::results
