// Are the last sheet and the mould read back as they were written, and damaged files refused?
#include "io/results/frames_stored.h"

#include "io/results/frames.h"
#include "mesh/check.h"
#include "mesh/shapes.h"
#include "tests/io/results/made_up.h"

namespace pellicle::results {
namespace {

constexpr double kF32 = 6e-8;  // half a unit in the last place of f32, relative

class FramesStored : public Scratch {
 protected:
  void write(const MadeUp& sheet, bool with_mould) {
    ResultFolder folder(root_ / "out", true, {});
    FrameWriter frames(folder);
    frames.write(MadeUp(2, 1e-3).frame(0, 0.0));
    frames.write(sheet.frame(1, 1.0));
    if (with_mould) write_mould(folder, mesh::box({0, 0, 0}, {0.01, 0.02, 0.03}));
  }
  /// The message of the refusal; empty if there was none.
  std::string refusal() {
    try {
      read_last_sheet(HeldFolder(root_ / "out"));
    } catch (const Error& error) {
      EXPECT_EQ(error.exit_code(), 2);
      return error.what();
    }
    return "";
  }
};

TEST_F(FramesStored, TheLastSheetComesBackInTheAccuracyOfTheFile) {
  const MadeUp sheet(4, 2e-3);
  write(sheet, true);
  const HeldFolder folder(root_ / "out");
  const StoredSheet stored = read_last_sheet(folder);
  EXPECT_EQ(stored.face.triangles, sheet.triangles);
  ASSERT_EQ(stored.face.points_m.size(), sheet.points_m.size());
  for (std::size_t i = 0; i < sheet.points_m.size(); ++i) {
    EXPECT_LE((stored.face.points_m[i] - sheet.points_m[i]).norm(), 2.0 * kF32 * sheet.points_m[i].norm());
    EXPECT_NEAR(stored.thickness_m[i], sheet.per_node[i], kF32 * sheet.per_node[i]);
  }
  ASSERT_EQ(stored.flat_m.size(), sheet.flat_m.size());
  for (std::size_t i = 0; i < sheet.flat_m.size(); ++i)
    EXPECT_LE((stored.flat_m[i] - sheet.flat_m[i]).norm(), 2.0 * kF32 * sheet.flat_m[i].norm());
  const auto mould = read_mould(folder);
  ASSERT_TRUE(mould);
  EXPECT_EQ(mould->triangles.size(), 12U);
}

TEST_F(FramesStored, AFieldComesBackInItsUnitWithItsGaps) {
  const MadeUp sheet(4, 2e-3);
  write(sheet, false);
  const HeldFolder folder(root_ / "out");
  const std::vector<double> touched_s = read_last_field(folder, "touched_s"),
                            gap_mm = read_last_field(folder, "gap_mm");
  ASSERT_EQ(touched_s.size(), sheet.touched_s.size());
  int gaps = 0;
  for (std::size_t i = 0; i < touched_s.size(); ++i) {
    EXPECT_EQ(std::isnan(touched_s[i]), std::isnan(sheet.touched_s[i]));
    gaps += std::isnan(touched_s[i]) ? 1 : 0;
    EXPECT_NEAR(gap_mm[i], 1e3 * sheet.gap_m[i], kF32 * 1e3 * std::abs(sheet.gap_m[i]));
  }
  EXPECT_GT(gaps, 3);
  EXPECT_TRUE(read_last_field(folder, "layer_line_um").empty()) << "this run has none";
}

TEST_F(FramesStored, WithoutAMouldThereIsNone) {
  write(MadeUp(3, 1e-3), false);
  EXPECT_FALSE(read_mould(HeldFolder(root_ / "out")));
}

TEST_F(FramesStored, WhatIsNoSheetIsRefused) {
  const MadeUp good(3, 1e-3);
  const auto spoilt = [&](auto&& spoil) {
    MadeUp sheet = good;
    spoil(sheet);
    write(sheet, false);
    return refusal();
  };
  EXPECT_EQ(spoilt([](MadeUp&) {}), "");
  EXPECT_NE(spoilt([](MadeUp& s) { s.per_node[5] = 0.0; }).find("a thickness of 0 mm"), std::string::npos);
  EXPECT_NE(spoilt([](MadeUp& s) { s.per_node[5] = NAN; }).find("a thickness of nan mm"), std::string::npos);
  EXPECT_NE(spoilt([](MadeUp& s) { s.points_m[3].y() = NAN; }).find("point 3"), std::string::npos);
  EXPECT_NE(spoilt([](MadeUp& s) { s.triangles[2][1] = 16; }).find("corner 16 in triangle 2"), std::string::npos);
  EXPECT_NE(spoilt([](MadeUp& s) { s.triangles[2][1] = -1; }).find("corner -1"), std::string::npos);
  EXPECT_NE(spoilt([](MadeUp& s) { std::swap(s.triangles[2][1], s.triangles[2][2]); }).find("no sheet"),
            std::string::npos);
  put(root_ / "out" / "sheet_0001.h5", "no HDF5");
  EXPECT_NE(refusal().find("no HDF5 file"), std::string::npos);
  std::filesystem::remove_all(root_ / "out");
  std::filesystem::create_directory(root_ / "out");
  EXPECT_NE(refusal().find("no sheet_NNNN.h5"), std::string::npos);
}

}  // namespace
}  // namespace pellicle::results
