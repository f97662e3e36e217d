// Does the sheet hang as the closed forms say before it is formed, and is its weight booked?
#include "solver/forming/sag.h"

#include "solver/sheet/membrane.h"
#include "tests/solver/forming/small_run.h"

#include <gtest/gtest.h>

#include <cmath>

namespace pellicle::forming {
namespace {

using mould::RigidMould;

constexpr double kRadius_m = 0.05;

/// `soft` times softer: what counts is weight over stiffness.
sheet::SheetState hanging(double modulus_Pa, double expansion, double element_m, double* deep_m) {
  const FormingSpec spec = disc_spec(2.0 * kRadius_m, 0.0, element_m);
  sheet::SheetState s = sheet::flat_sheet(mesh_of(spec), kBought_m, spec.sheet.density_kg_m3, 0.0);
  if (expansion > 0.0) sheet::expand(s, expansion);
  *deep_m = hang(sheet::NeoHookean{modulus_Pa}, spec.sheet.density_kg_m3, s);
  return s;
}

/// Shallow, no tension at the start: w = 0.595 a (q a/(E h))^(1/3), E = 3 mu (facts of this project: derived; Fichter
/// has 0.653 for nu = 0.3, NASA TP-3658, from memory). 2 %: strains of 0.2 % and elements of a twelfth of the radius.
TEST(Sag, OfAnEvenSheetIsThatOfTheShallowMembrane) {
  double deep_m = 0.0;
  const double modulus_Pa = 0.3e6;
  hanging(modulus_Pa, 0.0, 4e-3, &deep_m);
  const double load = 1200.0 * kBought_m * kGravity_m_s2 * kRadius_m / (3.0 * modulus_Pa * kBought_m);
  EXPECT_NEAR(deep_m / (0.595 * kRadius_m * std::cbrt(load)), 1.0, 0.02);
}

/// Longer than the clamp is wide the sheet is folded all round, and each sector hangs like a string whose weight grows
/// with r: z' = 3 w r^2/a^3, so its length a (1 + e) = a + 0.9 w^2/a, w = a sqrt(e/0.9) (derived here). To that a few
/// percent of e by which the folded sheet stretches: 4 %.
TEST(Sag, OfAnExpandedSheetIsThatOfFoldedSectors) {
  double deep_m = 0.0;
  const double expansion = 0.017;
  const sheet::SheetState s = hanging(3e6, expansion, 4e-3, &deep_m);
  EXPECT_NEAR(deep_m / (kRadius_m * std::sqrt(expansion / 0.9)), 1.0, 0.04);
  int folded = 0, looked = 0;
  for (int e = 0; e < s.elements(); ++e) {
    const mesh::Vec2 at = s.flat_m[static_cast<std::size_t>(s.triangles[static_cast<std::size_t>(e)][0])];
    if (at.norm() < 0.6 * kRadius_m || at.norm() > 0.9 * kRadius_m) continue;
    folded += sheet::element_stretch(s, e).wrinkle > 0.0 ? 1 : 0, ++looked;
  }
  EXPECT_GT(folded, 0.9 * looked);
}

/// The rim bears the weight of all that is free, to what may be left unborne.
TEST(Sag, TheRimBearsTheWeight) {
  double deep_m = 0.0;
  const double modulus_Pa = 0.3e6;
  sheet::SheetState s = hanging(modulus_Pa, 0.005, 6e-3, &deep_m);
  s.moved.assign(s.x_m.size(), 1);
  sheet::membrane_forces(sheet::NeoHookean{modulus_Pa}, s);
  const std::vector<double> weight_N = weights_N(s, 1200.0);
  double borne_N = 0.0, free_N = 0.0, all_N = 0.0;
  for (std::size_t i = 0; i < weight_N.size(); ++i) {
    all_N += weight_N[i];
    if (s.on_rim[i])
      borne_N -= s.force_N[i].z();
    else
      free_N += weight_N[i];
  }
  EXPECT_NEAR(borne_N / free_N, 1.0, 3.0 * kUnborne * std::sqrt(static_cast<double>(weight_N.size())));
  // Density times volume of a disc of straight sides: below the circle by a share of a thousandth or so.
  EXPECT_NEAR(all_N / (1200.0 * kBought_m * kGravity_m_s2 * M_PI * kRadius_m * kRadius_m), 1.0, 0.01);
}

FormingSpec weighty(double modulus_Pa = 3e4) {
  FormingSpec spec = disc_spec(2.0 * kRadius_m, 30e-3, 6e-3);
  spec.sheet.law = sheet::NeoHookean{modulus_Pa};
  spec.sheet.sags = true, spec.sheet.expansion = 0.01;
  return spec;
}

double apex_m(const FormingResult& r) {
  double lowest = r.points_m.front().z();
  for (const mesh::Vec3& p : r.points_m) lowest = std::min(lowest, p.z());
  return r.clamp_z_m - lowest;
}

/// Nothing is done to it: it hangs on as it did, within what was left unborne, and begins so.
TEST(Sag, AHangingSheetHangsOn) {
  FormingSpec spec = weighty();
  spec.stages = {press(0.0, 0.5)};
  const Ended e = run_to_end(spec, RigidMould({}, false));
  const double first_m = apex_m(e.sent.frames.front()), last_m = apex_m(e.result);
  EXPECT_GT(first_m, 5e-3);
  EXPECT_NEAR(last_m / first_m, 1.0, 0.005);
  EXPECT_GT(e.sent.rows.front().gravity_J, 0.0);
  // Switched off it starts flat.
  spec.sheet.sags = false, spec.sheet.expansion = 0.0;
  EXPECT_LT(apex_m(run_to_end(spec, RigidMould({}, false)).sent.frames.front()), 1e-12);
}

/// Blown on by a little, and lowered: the weight gives what the books say, and a wrong entry stops the run.
TEST(Sag, TheBooksHoldTheWorkOfTheWeight) {
  FormingSpec spec = weighty(1e4);
  spec.stages = {lower_to(10e-3, 0.5), {"blow", 1.0, VolumeDrive{6e-5}, {}}};
  spec.numerics.energy_limit = 0.01;
  const Ended e = run_to_end(spec, RigidMould({}, false));
  const HistoryRow& last = e.sent.rows.back();
  EXPECT_LT(std::fabs(last.balance), 0.005);
  // By the clamp's way alone weight times 20 mm.
  const double weight_N = 1200.0 * kBought_m * kGravity_m_s2 * M_PI * kRadius_m * kRadius_m;
  EXPECT_GT(last.gravity_J, weight_N * 20e-3);
  EXPECT_GT(last.gravity_J, 0.05 * last.strain_J);
  LedgerTamper tamper;
  tamper.gravity = 0.0;
  EXPECT_THROW(run_to_end(spec, RigidMould({}, false), tamper), Error);
}

/// Long steps by extra mass are for a flat sheet that only rides with the clamp: one that hangs would swing, slower
/// than its pace.
TEST(Sag, AHangingSheetDoesNotRideOnExtraMass) {
  FormingSpec spec = weighty();
  spec.stages = {lower_to(25e-3, 0.2)};
  const double hanging = run_to_end(spec, RigidMould({}, false)).stages.front().mass_factor;
  spec.sheet.sags = false;
  const double flat = run_to_end(spec, RigidMould({}, false)).stages.front().mass_factor;
  EXPECT_NEAR(flat / hanging, 25.0, 1e-9);
}

TEST(Sag, ASheetThatWouldHangOnTheMouldIsRefused) {
  FormingSpec spec = weighty();
  spec.sheet.height_m = 6e-3;
  spec.stages = {press(0.0, 0.1)};
  const RigidMould block(mesh::box({-6e-3, -6e-3, 0.0}, {6e-3, 6e-3, 4e-3}), true);
  try {
    Forming forming(spec, block, mesh_of(spec));
    ADD_FAILURE();
  } catch (const Error& error) {
    EXPECT_EQ(error.fault().kind, Fault::Kind::kGeometry);
    EXPECT_NE(std::string(error.what()).find("sags by"), std::string::npos) << error.what();
  }
}

TEST(Sag, GoingOnFromASnapshotChangesNoBitOverARefinement) {
  FormingSpec spec = weighty();
  spec.sheet.fine_element_m = 2e-3;
  spec.stages = {lower_to(5e-3, 0.3), press(3e3, 0.3)};
  const RigidMould block(mesh::box({-6e-3, -6e-3, 0.0}, {6e-3, 6e-3, 4e-3}), true);
  const Ended whole = run_to_end(spec, block);
  Forming first(spec, block, mesh_of(spec));
  FormingSinks sinks;
  double reached_s = 0.0;
  sinks.history = [&](const HistoryRow& row) { reached_s = row.time_s; };
  sinks.stop = [&] { return reached_s >= 0.25; };
  ASSERT_FALSE(first.run(sinks));
  Forming second(spec, block, first.snapshot());
  ASSERT_TRUE(second.run({}));
  const Snapshot there = second.snapshot();
  ASSERT_EQ(there.x_m.size(), whole.snap.x_m.size());
  ASSERT_GT(there.x_m.size(), mesh_of(spec).flat_m.size());
  int differ = 0;
  for (std::size_t i = 0; i < there.x_m.size(); ++i) differ += there.x_m[i] == whole.snap.x_m[i] ? 0 : 1;
  EXPECT_EQ(differ, 0);
  EXPECT_EQ(there.ledger.gravity_J, whole.snap.ledger.gravity_J);
}

}  // namespace
}  // namespace pellicle::forming
