// Does a sheet carry on as it should when one stage is far shorter than the other?
#include "tests/solver/forming/small_run.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

namespace pellicle::forming {
namespace {

using mould::RigidMould;

const mesh::TriangleMesh& small_box() {
  static const mesh::TriangleMesh m = mesh::box({-0.010, -0.010, 0.0}, {0.010, 0.010, 0.008});
  return m;
}

/// Largest distance of a node in two runs of one mesh.
double apart_m(const Ended& a, const Ended& b) {
  EXPECT_EQ(a.snap.x_m.size(), b.snap.x_m.size());
  double most = 0.0;
  for (std::size_t i = 0; i < std::min(a.snap.x_m.size(), b.snap.x_m.size()); ++i)
    most = std::max(most, (a.snap.x_m[i] - b.snap.x_m[i]).norm());
  return most;
}

/// Largest difference of thickness at a node, over the bought one.
double walls_apart(const Ended& a, const Ended& b) {
  EXPECT_EQ(a.result.thickness_m.size(), b.result.thickness_m.size());
  double most = 0.0;
  for (std::size_t i = 0; i < std::min(a.result.thickness_m.size(), b.result.thickness_m.size()); ++i)
    most = std::max(most, std::fabs(a.result.thickness_m[i] - b.result.thickness_m[i]) / kBought_m);
  return most;
}

/// An elastic sheet has no clock but that of its stages: mass goes with the square of a stage's length, and so every
/// step is the same share of it. A second stage a thousand times shorter or longer, begun while the sheet still moves,
/// must end in the same shape but for round-off; 1e-9 m of a bubble of centimetres, over some thousand steps.
TEST(Pace, AnElasticSheetHasNoClockButThatOfItsStages) {
  FormingSpec spec = disc_spec(0.05, 0.03, 4e-3);
  const RigidMould nothing(std::nullopt, false);
  const StageSpec blow{"blow", 0.02, GasDrive{1e5, 4.3e-3, 1e-3, false}, {}};  // ends in full travel
  spec.stages = {blow, press(4e3, 0.02)};
  const Ended alike = run_to_end(spec, nothing);
  EXPECT_GT(alike.stages.at(0).swept_volume_m3, 1e-6);
  EXPECT_GT(alike.snap.worst_balance, 0.0);
  for (const double duration_s : {2e-5, 20.0}) {
    spec.stages = {blow, press(4e3, duration_s)};
    const Ended other = run_to_end(spec, nothing);
    EXPECT_LT(apart_m(alike, other), 1e-9) << duration_s;
    EXPECT_LT(other.snap.worst_balance, 0.02) << duration_s;
  }
}

/// Lowered over a block, held there without gas, then pressed.
FormingSpec lowered_and_pressed(double wait_s) {
  FormingSpec spec = disc_spec(0.05, 9e-3, 2.5e-3);
  spec.stages = {lower_to(3e-3, 0.4), {"wait", wait_s, PressureDrive{0.0}, {}}, press(5e4, 1.0)};
  return spec;
}

/// Nothing is asked in the wait and the sheet is elastic, so its length is nothing: walls alike to 0.5 % of the bought
/// thickness, what a pace is worth (docs/theory/time.md), and the books closed.
TEST(Pace, AWaitOfAMillisecondIsAsGoodAsALongOne) {
  const RigidMould mould(small_box(), true);
  const Ended tenth = run_to_end(lowered_and_pressed(0.1), mould);
  EXPECT_GT(tenth.sent.rows.back().contact_share, 0.02);  // the top of the block, at least
  for (const double wait_s : {1e-3, 1e-5}) {
    const Ended with = run_to_end(lowered_and_pressed(wait_s), mould);
    EXPECT_LT(with.snap.worst_balance, 0.02) << wait_s;
    EXPECT_LT(walls_apart(tenth, with), 0.005) << wait_s;
    EXPECT_EQ(with.stages.size(), 3U);
  }
}

/// A first stage of a millisecond, in which the sheet goes fast: the next one must not throw the sheet that is a
/// million times heavier. Blown to 4 kPa and held there for a second is as blown within the second: 1e-3 of thickness,
/// what the kinetic energy that is left and the steps are worth.
TEST(Pace, ASheetBlownInAMillisecondIsNotThrownByTheNextStage) {
  FormingSpec spec = disc_spec(0.05, 0.03, 4e-3);
  const RigidMould nothing(std::nullopt, false);
  spec.stages = {press(4e3, 1.0)};
  const Ended slow = run_to_end(spec, nothing);
  spec.stages = {press(2e3, 1e-3), press(4e3, 1.0)};
  const Ended fast = run_to_end(spec, nothing);
  EXPECT_LT(fast.snap.worst_balance, 0.02);
  EXPECT_LT(fast.stages.at(1).kinetic_share, 0.03);  // what a run warns of
  EXPECT_LT(walls_apart(slow, fast), 1e-3);
}

}  // namespace
}  // namespace pellicle::forming
