// How wide is what the mould does not hold yet?
#include "solver/forming/free_span.h"

#include "tests/solver/sheet/sheet_samples.h"

#include <gtest/gtest.h>

namespace pellicle::forming {
namespace {

constexpr double kStrip = 2.404825557695773 / 1.5707963267948966;  // first root of J0 over pi/2

/// Square sheet of 16 x 16 cells, its outline held, nothing touched.
struct Square {
  sheet::SheetState sheet = sheet::flat_sheet(sheet::square_mesh(16, 0.0), 1e-3, 1200.0, 0.0);
  std::vector<Touch> touch = std::vector<Touch>(sheet.x_m.size());
  double half_m = 0.0;

  Square() {
    for (const mesh::Vec2& p : sheet.flat_m) half_m = std::max(half_m, p.cwiseAbs().maxCoeff());
  }
  void hold(const std::function<bool(const mesh::Vec2&)>& where) {
    for (std::size_t i = 0; i < touch.size(); ++i)
      if (where(sheet.flat_m[i])) touch[i].anchored = 1;
  }
};

TEST(FreeSpan, OfAWholeSheetIsItsHalfWidth) {
  const Square square;
  // To the nearest side of a square whose edges run along its sides there is no detour.
  EXPECT_NEAR(free_half_width_m(square.sheet, square.touch), kStrip * square.half_m, 1e-3 * square.half_m);
}

TEST(FreeSpan, IsTheWidestStripLeft) {
  Square square;  // of half width 1: held from x = -1 to 0, free from 0 to 1
  square.hold([](const mesh::Vec2& p) { return p.x() <= 1e-9; });
  EXPECT_NEAR(free_half_width_m(square.sheet, square.touch), 0.5 * kStrip * square.half_m, 1e-3 * square.half_m);
}

TEST(FreeSpan, IsNoneWhereAllIsHeld) {
  Square square;
  square.hold([](const mesh::Vec2&) { return true; });
  EXPECT_EQ(free_half_width_m(square.sheet, square.touch), 0.0);
}

}  // namespace
}  // namespace pellicle::forming
