// Do the cells hold the volume of the mould, of its shell and its filling, of sound and of spoilt surfaces?
#include "mesh/voxels.h"

#include "mesh/check.h"
#include "mesh/shapes.h"
#include "tests/mesh/nearest_samples.h"
#include "tests/mesh/spoilt_shapes.h"

#include <gtest/gtest.h>
#include <omp.h>

#include <cmath>
#include <numbers>

namespace pellicle::mesh {
namespace {

using std::numbers::pi;

VoxelOptions solid(double cell_m) {
  VoxelOptions o;
  o.cell_m = cell_m;
  return o;
}

VoxelOptions shell(double cell_m, double wall_m, Inside inside, bool base_open) {
  VoxelOptions o;
  o.cell_m = cell_m, o.wall_m = wall_m, o.inside = inside, o.base_open = base_open;
  return o;
}

double volume_m3(const TriangleMesh& m) {
  double sum = 0.0;
  for (std::size_t t = 0; t < m.triangles.size(); ++t)
    sum += corner(m, t, 0).dot(corner(m, t, 1).cross(corner(m, t, 2))) / 6.0;
  return sum;
}

/// Largest difference of a share, and of the sums, in cells.
double largest_difference(const Voxels& a, const Voxels& b) {
  EXPECT_EQ(a.cells, b.cells);
  double worst = 0.0;
  for (std::size_t i = 0; i < a.shell.size(); ++i)
    worst = std::max(worst, static_cast<double>(std::abs(a.shell[i] + a.fill[i] - b.shell[i] - b.fill[i])));
  return worst;
}

// Faces along the grid are cut exactly, wherever they lie in a cell; edges where two such faces meet within a cell are
// seen by one of the two sets of lines, which is a quarter of a cell off at most (4 lines).
TEST(Voxels, HoldABlockExactly) {
  const Nearest block(box({0.001, 0.002, 0.0}, {0.011, 0.008, 0.004}));
  const Voxels even = voxels_of(block, solid(0.0005));
  EXPECT_EQ(even.cells, (std::array{20, 12, 8}));
  EXPECT_NEAR(even.shell_m3(), 0.01 * 0.006 * 0.004, 1e-6 * 0.01 * 0.006 * 0.004);  // float shares
  for (const float s : even.shell) EXPECT_EQ(s, 1.0F);
  const Voxels odd = voxels_of(block, solid(0.0007));  // 14.29, 8.57, 5.71 cells
  EXPECT_NEAR(odd.shell[odd.index(14, 3, 3)], 100.0 / 7.0 - 14.0, 1e-5);
  EXPECT_NEAR(odd.shell[odd.index(3, 8, 3)], 60.0 / 7.0 - 8.0, 1e-5);
  EXPECT_NEAR(odd.shell[odd.index(3, 3, 5)], 40.0 / 7.0 - 5.0, 1e-5);
}

// Of round bodies the error of the sum falls with the square of the cell: lines a quarter of a cell apart are a
// midpoint rule over a smooth shadow, except at its rim.
TEST(Voxels, HoldRoundBodies) {
  for (const TriangleMesh& m : {sphere({0.0, 0.0, 0.0}, 0.01, 4), cylinder(0.01, 0.0, 0.012, 96)}) {
    const double exact = volume_m3(m);
    EXPECT_NEAR(voxels_of(Nearest(m), solid(0.001)).shell_m3() / exact, 1.0, 4e-3);
    EXPECT_NEAR(voxels_of(Nearest(m), solid(0.0005)).shell_m3() / exact, 1.0, 1e-3);
  }
}

TEST(Voxels, ShellAndFillingOfABlock) {
  // 20 x 16 x 12 mm, wall 2 mm. Inner edges and corners of the offset are sharp too, so volumes are those of boxes.
  const Nearest block(box({0.0, 0.0, 0.0}, {0.02, 0.016, 0.012}));
  const double whole = 0.02 * 0.016 * 0.012, closed = 0.016 * 0.012 * 0.008, open = 0.016 * 0.012 * 0.010;
  const Voxels filled = voxels_of(block, shell(0.001, 0.002, Inside::kFilled, false));
  EXPECT_NEAR(filled.fill_m3(), closed, 1e-3 * closed);  // cut_share, normals raised to 1e-4
  EXPECT_NEAR(filled.shell_m3(), whole - closed, 1e-3 * whole);
  const Voxels hollow = voxels_of(block, shell(0.001, 0.002, Inside::kHollow, false));
  EXPECT_EQ(hollow.fill_m3(), 0.0);
  EXPECT_NEAR(hollow.shell_m3(), whole - closed, 1e-3 * whole);
  const Voxels bottomless = voxels_of(block, shell(0.001, 0.002, Inside::kFilled, true));
  EXPECT_NEAR(bottomless.fill_m3(), open, 1e-3 * open);
  EXPECT_NEAR(bottomless.fill[bottomless.index(10, 8, 0)], 1.0, 1e-3);
  // Three cells through a wall of 2.1 mm, not aligned with the offset: still the volume.
  const double cell_m = cell_through_wall_m(0.0021, 3);
  const double inner = (0.02 - 0.0042) * (0.016 - 0.0042) * (0.012 - 0.0042);
  EXPECT_NEAR(voxels_of(block, shell(cell_m, 0.0021, Inside::kFilled, false)).fill_m3(), inner, 0.02 * inner);
}

// Concentric balls: the depth is linear across a cell but for its curvature.
TEST(Voxels, ShellOfABall) {
  const Nearest ball(sphere({0.0, 0.0, 0.0}, 0.01, 4));
  const Voxels v = voxels_of(ball, shell(0.0005, 0.003, Inside::kFilled, false));
  const double inner = 4.0 / 3.0 * pi * std::pow(0.007, 3);
  EXPECT_NEAR(v.fill_m3() / inner, 1.0, 0.01);  // the facets lie up to 0.1 % of the radius inside the ball
}

TEST(Voxels, CutOffWhatIsBelowTheFloor) {
  VoxelOptions o = solid(0.0005);
  o.floor_m = 0.0;
  const Voxels v = voxels_of(Nearest(sphere({0.0, 0.0, 0.0}, 0.01, 4)), o);
  EXPECT_EQ(v.low_m.z(), 0.0);
  EXPECT_NEAR(v.shell_m3(), 2.0 / 3.0 * pi * 1e-6, 0.01 * 2.1e-6);
}

TEST(Voxels, VentsAreAir) {
  const Nearest block(box({0.0, 0.0, 0.0}, {0.02, 0.02, 0.01}));
  VoxelOptions o = solid(0.0005);
  o.vents = {{{0.01, 0.01, -0.001}, {0.01, 0.01, 0.02}, 0.002}};
  const double hole = pi * 0.002 * 0.002 * 0.01;
  EXPECT_NEAR(4e-6 - voxels_of(block, o).shell_m3(), hole, 0.03 * hole);  // 4^3 points a cell on the rim
  o.vents = {{{0.003, 0.003, 0.004}, {0.016, 0.012, 0.007}, 0.001}};      // slanting, within the block
  const double bore = pi * 1e-6 * std::sqrt(0.013 * 0.013 + 0.009 * 0.009 + 0.003 * 0.003);
  EXPECT_NEAR(4e-6 - voxels_of(block, o).shell_m3(), bore, 0.03 * bore);
}

// Spoilt surfaces against the sound one, cell by cell.
TEST(Voxels, OfSpoiltSurfacesAreThoseOfTheSoundOne) {
  const TriangleMesh ball = sphere({0.0, 0.0, 0.0}, 0.01, 3);
  const Voxels sound = voxels_of(Nearest(ball), solid(0.001));

  TriangleMesh doubled = ball;
  for (const int t : {3, 700, 1100}) doubled.triangles.push_back(ball.triangles[static_cast<std::size_t>(t)]);
  // Where a line meets the double, 4^3 points stand for lengths: an eighth of a cell and a bit.
  EXPECT_LT(largest_difference(voxels_of(Nearest(doubled), solid(0.001)), sound), 0.2);

  // Two holes of one triangle (0.7 of a cell wide) right opposite each other: lines along z pass through both.
  TriangleMesh holed = ball;
  std::erase_if(holed.triangles, [&](const Triangle& t) {
    Vec3 n = ball.points_m[static_cast<std::size_t>(t[0])] + ball.points_m[static_cast<std::size_t>(t[1])] +
             ball.points_m[static_cast<std::size_t>(t[2])];
    return n.head<2>().norm() < 0.1 * n.norm();
  });
  EXPECT_LT(holed.triangles.size(), ball.triangles.size());
  const Voxels patched = voxels_of(Nearest(holed), solid(0.001));
  EXPECT_LT(largest_difference(patched, sound), 1.0);  // no cell changes sides
  EXPECT_NEAR(patched.shell_m3() / sound.shell_m3(), 1.0, 0.005);

  // Two blocks that overlap are their union.
  const Voxels two = voxels_of(
      Nearest(together({box({0, 0, 0}, {0.006, 0.01, 0.01}), box({0.004, 0, 0}, {0.01, 0.01, 0.01})})), solid(0.001));
  EXPECT_NEAR(two.shell_m3(), 1e-6, 1e-6 * 1e-6);
  // A hollow that faces inwards is one.
  const Voxels hollow = voxels_of(Nearest(together({box({0, 0, 0}, {0.01, 0.01, 0.01}),
                                                    inside_out(box({0.002, 0.002, 0.002}, {0.008, 0.008, 0.008}))})),
                                  solid(0.001));
  EXPECT_NEAR(hollow.shell_m3(), 1e-6 - 216e-9, 1e-12);
}

// A box without top and bottom: lines along z find nothing at all, yet its middle is inside.
TEST(Voxels, OfATubeWithoutEndsAreFilled) {
  TriangleMesh tube = box({0.0, 0.0, 0.0}, {0.004, 0.004, 0.02});
  std::erase_if(tube.triangles, [&](const Triangle& t) {
    const double z = tube.points_m[static_cast<std::size_t>(t[0])].z();
    return z == tube.points_m[static_cast<std::size_t>(t[1])].z() &&
           z == tube.points_m[static_cast<std::size_t>(t[2])].z();
  });
  ASSERT_EQ(tube.triangles.size(), 8U);
  const Voxels v = voxels_of(Nearest(tube), solid(0.0005));
  for (int k = 4; k < 36; ++k) EXPECT_EQ(v.shell[v.index(4, 4, k)], 1.0F) << k;
}

TEST(Voxels, AreTheSameBitsForAnyNumberOfThreads) {
  TriangleMesh spoilt = cup(0.01, 0.006, 0.01, 0.014, 48, 3);
  spoilt.triangles.push_back(spoilt.triangles[40]);
  const Nearest surface(spoilt);
  const VoxelOptions o = shell(0.0005, 0.0015, Inside::kFilled, true);
  omp_set_num_threads(1);
  const Voxels one = voxels_of(surface, o);
  omp_set_num_threads(2);
  const Voxels two = voxels_of(surface, o);
  omp_set_num_threads(3);
  const Voxels three = voxels_of(surface, o);
  omp_set_num_threads(1);
  EXPECT_TRUE(one.shell == two.shell && one.fill == two.fill);
  EXPECT_TRUE(one.shell == three.shell && one.fill == three.fill);
  EXPECT_GT(one.fill_m3(), 0.0);
}

TEST(Voxels, RefuseWhatTheyCannotHold) {
  const Nearest block(box({0.0, 0.0, 0.0}, {0.1, 0.1, 0.1}));
  EXPECT_THROW(voxels_of(block, solid(1e-5)), Error);                                  // 1e12 cells
  EXPECT_THROW(voxels_of(block, shell(0.002, 0.001, Inside::kHollow, false)), Error);  // half a cell of wall
  VoxelOptions o = solid(0.01);
  o.floor_m = 0.2;
  EXPECT_THROW(voxels_of(block, o), Error);
  EXPECT_THROW(voxels_of(Nearest(inside_out(box({0, 0, 0}, {0.1, 0.1, 0.1}))), solid(0.01)), Error);
}

}  // namespace
}  // namespace pellicle::mesh
