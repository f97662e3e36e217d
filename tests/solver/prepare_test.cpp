// Does an open mould face the sheet, whichever way its triangles run?
#include "solver/prepare.h"

#include "mesh/shapes.h"

#include <gtest/gtest.h>

#include <algorithm>

namespace pellicle {
namespace {

TEST(MakeMould, AnOpenSurfaceFacesTheSideTheSheetStartsOn) {
  Case c{};
  c.sheet.height_m = 0.02;
  c.mould = MouldSpec{.platform = false, .friction = {.stick = true, .coefficient = 0.0}};
  int checked = 0;
  for (const bool turned : {false, true}) {
    mesh::TriangleMesh box = mesh::box({-0.02, -0.01, 0.0}, {0.02, 0.01, 0.01});
    std::erase_if(box.triangles, [&](const mesh::Triangle& t) {  // no bottom
      return std::all_of(t.begin(), t.end(),
                         [&](int i) { return box.points_m[static_cast<std::size_t>(i)].z() == 0.0; });
    });
    ASSERT_EQ(box.triangles.size(), 10U);
    if (turned)
      for (mesh::Triangle& t : box.triangles) std::swap(t[1], t[2]);
    const mould::RigidMould mould = make_mould(c, {box});
    EXPECT_NEAR(mould.gap_m({0.001, 0.002, 0.013}), 0.003, 1e-15) << "turned " << turned;  // round-off of 1e-2
    EXPECT_NEAR(mould.gap_m({0.001, 0.002, 0.009}), -0.001, 1e-15) << "turned " << turned;
    ++checked;
  }
  EXPECT_EQ(checked, 2);
}

}  // namespace
}  // namespace pellicle
