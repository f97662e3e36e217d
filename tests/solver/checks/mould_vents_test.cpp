// Is the stress beside a hole what the books say, whether the cells hold the hole or not?
#include "solver/checks/mould_vents.h"

#include "mesh/shapes.h"
#include "solver/checks/mould_cells.h"
#include "solver/mould/body.h"
#include "tests/solver/checks/printed.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

namespace pellicle::checks {
namespace {

using mesh::Vec3;

mould::Voigt stress(double xx, double yy, double zz, double yz = 0.0, double zx = 0.0, double xy = 0.0) {
  return (mould::Voigt() << xx, yy, zz, yz, zx, xy).finished();
}

// Kirsch: 3 S under one pull, 2 S under an even one, 4 S under shear; along its axis a hole changes nothing.
TEST(MouldVents, RimIsStressedAsKirschSays) {
  const Vec3 up = Vec3::UnitZ();
  EXPECT_NEAR(rim_stress_Pa(stress(1, 0, 0), up), 3.0, 1e-12);
  EXPECT_NEAR(rim_stress_Pa(stress(1, 1, 0), up), 2.0, 1e-12);
  EXPECT_NEAR(rim_stress_Pa(stress(0, 0, 0, 0, 0, 1), up), 4.0, 1e-12);
  EXPECT_NEAR(rim_stress_Pa(stress(-1, -4, 0), up), 1.0, 1e-12);  // pressed unevenly enough, it is pulled
  EXPECT_NEAR(rim_stress_Pa(stress(0, 0, 7, 2, 3), up), 0.0, 1e-12);
  EXPECT_NEAR(rim_stress_Pa(stress(0, 1, 0), Vec3::UnitX()), 3.0, 1e-12);
}

// Inglis: 1 + 2 sqrt(a/rho) across, 1 + 2 sqrt(rho/a) along; four times as long as wide: 5 and 2.
TEST(MouldVents, EndsOfASlotAreStressedAsInglisSays) {
  const Vec3 up = Vec3::UnitZ();
  EXPECT_NEAR(rim_stress_Pa(stress(1, 0, 0), up, 4.0), 5.0, 1e-12);
  EXPECT_NEAR(rim_stress_Pa(stress(1, 1, 0), up, 4.0), 4.0, 1e-12);
  EXPECT_NEAR(rim_stress_Pa(stress(-1, -4, 0), up, 4.0), 2.0, 1e-12);  // pressed: -2 + 4 at the long sides
  EXPECT_NEAR(rim_stress_Pa(stress(1, 0, 0), up, 20.0), 1.0 + 2.0 * std::sqrt(20.0), 1e-12);
}

TEST(MouldVents, ASlotIsToldWithItsLengthAndNeverCutOut) {
  const std::vector<DrilledVent> vents{{{0.012, 0.012, 0.010}, 0.0, 0.4e-3, 2e-3, 2e-3, 8e-3}};
  EXPECT_EQ(bored(vents, 0.02e-3).size(), 0U);
  const Draped d = printed_box(0.024, 0.024, 0.010, 4e5);
  MouldBuild build = printed(1.5e-3);
  build.inside = mesh::Inside::kSolid;
  int lands = 0, below = 0;
  for (const NarrowPlace& p : narrow_vents(vents, *d.mould.surface(), build, 1e-3)) {
    const bool is_land = std::abs(p.long_by_wide - 20.0) < 1e-9;
    EXPECT_TRUE(is_land || std::abs(p.long_by_wide - 4.0) < 1e-9) << p.long_by_wide;
    ++(is_land ? lands : below);
  }
  EXPECT_EQ(lands, 5);
  EXPECT_EQ(below, 17);
}

/// Largest tension in a plate of 40 mm with a hole of 4 mm, pulled along x by 1 MPa.
double pulled_plate_MPa(double cell_m) {
  const mesh::TriangleMesh plate = mesh::box({0, 0, 0}, {0.040, 0.040, 0.002});
  const mesh::Nearest surface(plate);
  MouldBuild build = printed(1e-3);
  build.inside = mesh::Inside::kSolid;
  const std::vector<DrilledVent> vents{{{0.020, 0.020, 0.002}, 0.0, 4e-3, 5e-3, 4e-3}};
  const mesh::Voxels cells = mould_cells(surface, build, cell_m, 0.0, bored(vents, cell_m));
  mould::BodyOptions options;
  options.shell = {2.4e9, 0.37};
  options.base_slides = true;
  mould::Body body(plate, cells, options);
  const mould::BodyResult r = body.solve([](int, const Vec3& x) {
    const bool is_end = x.x() < 1e-9 || x.x() > 0.040 - 1e-9;
    return is_end ? Vec3(x.x() < 0.020 ? -1e6 : 1e6, 0, 0) : Vec3(Vec3::Zero());
  });
  double most_Pa = 0.0;
  for (int n = 0; n < body.solid().grid.nodes(); ++n) {
    const Vec3 x = body.solid().node_m(n);
    if (std::abs(x.x() - 0.020) < 0.010) most_Pa = std::max(most_Pa, r.node_principal_Pa[static_cast<std::size_t>(n)]);
  }
  return 1e-6 * most_Pa;
}

// A tenth of the width is hole: 3.03 times the pull (Howland 1930, in Peterson's charts; from memory).
// With four cells across 2.45 were found, with eight 3.09: within a tenth, as on other curved walls (mould_body.md).
TEST(MouldVents, EightCellsAcrossHoldAHole) {
  const double found = pulled_plate_MPa(4e-3 / kCellsAcross);
  RecordProperty("times_the_pull", std::to_string(found));
  EXPECT_NEAR(found, 3.03, 0.303);
}

TEST(MouldVents, LandAndLowerPartAreHeldEachByItsOwnDiameter) {
  const std::vector<DrilledVent> vents{{{0.012, 0.012, 0.010}, 0.0, 0.4e-3, 2e-3, 3e-3}};
  EXPECT_EQ(bored(vents, 0.05e-3).size(), 2U);
  ASSERT_EQ(bored(vents, 0.3e-3).size(), 1U);
  EXPECT_EQ(bored(vents, 0.3e-3)[0].from_m.z(), 0.008);
  EXPECT_EQ(bored(vents, 1e-3).size(), 0U);
  const Draped d = printed_box(0.024, 0.024, 0.010, 4e5);
  const MouldBuild build = printed(1.5e-3);  // hollow: the land goes through it
  const auto places = narrow_vents(vents, *d.mould.surface(), build, 0.5e-3);
  EXPECT_EQ(places.size(), 7U);  // 0 to 1.5 mm down, of 2 mm, every quarter
  for (const NarrowPlace& p : places) EXPECT_TRUE(p.at_m.z() >= 0.0085 - 1e-9 && p.long_by_wide == 1.0);
  EXPECT_GT(narrow_vents(vents, *d.mould.surface(), build, 1e-3).size(), 3U);
}

}  // namespace
}  // namespace pellicle::checks
