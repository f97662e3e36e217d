// Is air shut in where sheet closes it off, does it push back as a gas does, and is none lost or made?
//
// All sheets are made up: their motion is prescribed, no forming run.
#include "solver/forming/trapped_air.h"

#include "mesh/check.h"
#include "tests/solver/forming/air_samples.h"

#include <gtest/gtest.h>
#include <omp.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>

namespace pellicle::forming {
namespace {

using mesh::Vec2;
using mesh::Vec3;

constexpr double kAtm_Pa = air::kAtmosphere_Pa, kRT = air::kGasConstant_J_kgK * air::kRoom_K;
constexpr double kSheet_m = 1e-3;
/// Sums and roots of masses: some hundred roundings.
constexpr double kRounding = 1e-12;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

AirUnderSheet air_over(const mould::RigidMould& mould, double half_m, std::vector<PlacedVent> vents = {},
                       AirOptions options = air_options(kSheet_m)) {
  return {mould, AirColumns(mould, Vec2(-half_m, -half_m), Vec2(half_m, half_m), half_m / 70), std::move(vents),
          options};
}

double books_kg(const TrappedAir& a) { return a.in_pockets_kg() + a.vented_kg + a.freed_kg + a.squeezed_kg; }

/// A rigid piston over one pocket: its volume changes at a given rate.
VolumeResponse driven(const TrappedAir& a, double rate_m3_s, double dt_s) {
  return {.volume_m3 = a.pockets[0].volume_m3, .rate_m3_s = rate_m3_s, .softness_m3_sPa = 0.0, .dt_s = dt_s};
}

// --- the sealed cup ---

constexpr double kCup_m = 25e-3, kDepth_m = 10e-3, kTop_m = 15e-3;
constexpr int kFacets = 96;

double cup_area_m2() { return 0.5 * kFacets * kCup_m * kCup_m * std::sin(2.0 * std::numbers::pi / kFacets); }

struct Cup {
  mould::RigidMould mould{mesh::cup(kCup_m, kDepth_m, kTop_m, 60e-3, kFacets, 4), true};
  GridSheet sheet{46, 35e-3};

  /// Flat on the land, hanging into the cup by w at the middle, as a paraboloid.
  void hang(double w_m) {
    sheet.lay(
        [&](double x, double y) {
          const double u = (x * x + y * y) / (kCup_m * kCup_m);
          return u < 1.0 ? kTop_m - w_m * (1.0 - u) : kTop_m;
        },
        mould);
  }
};

// p V = constant by hand: V = area (depth - w/2). Asked for: 1 % of the pressure, absolute. The columns are 0.2 % off
// at most; squares of 1.5 mm cut the paraboloid by (1.5/25)^2 w/4 = 0.1 % of w, and the border by half of that again.
TEST(TrappedAir, SealedCupIsIsothermal) {
  Cup cup;
  const AirUnderSheet under = air_over(cup.mould, 35e-3);
  TrappedAir a;
  int checked = 0;
  for (const double w : {0.0, 2e-3, 5e-3, 8e-3, 9.9e-3}) {
    cup.hang(w);
    under.find(cup.sheet.view(), 0.0, a);
    ASSERT_EQ(a.pockets.size(), 1U);
    const double v0 = cup_area_m2() * kDepth_m, v = v0 - cup_area_m2() * 0.5 * w, p = kAtm_Pa * v0 / v;
    EXPECT_NEAR(a.pockets[0].volume_m3, v, 0.01 * v) << w;
    EXPECT_NEAR(kAtm_Pa + a.pockets[0].pressure_Pa, p, 0.01 * p) << w;
    EXPECT_EQ(a.pockets[0].name, 0);
    ++checked;
  }
  EXPECT_EQ(checked, 5);
  EXPECT_NEAR(a.in_pockets_kg(), kAtm_Pa * cup_area_m2() * kDepth_m / kRT, 0.01 * a.in_pockets_kg());
  EXPECT_EQ(a.shut_in_kg, a.in_pockets_kg());
  // Per node: pressure inside, none on the land.
  const int middle = cup.sheet.node(23, 23), land = cup.sheet.node(23, 2);
  EXPECT_EQ(a.pressure_Pa(middle), a.pockets[0].pressure_Pa);
  EXPECT_EQ(a.pressure_Pa(land), 0.0);
  EXPECT_EQ(a.pocket_of[at(land)], kTouches);
}

// Isothermal back pressure at fill f, gauge: p0 f/(1 - f); adiabatic: p0 ((1 - f)^-1.4 - 1). By small steps of the
// piston; steps carry the pressure exactly (isothermal and isentropic are state functions), so round-off.
TEST(TrappedAir, BackPressureAtFill) {
  Cup cup;
  cup.hang(0.0);
  int checked = 0;
  for (const bool adiabatic : {false, true}) {
    AirOptions options = air_options(kSheet_m);
    options.adiabatic = adiabatic;
    const AirUnderSheet under = air_over(cup.mould, 35e-3, {}, options);
    TrappedAir a;
    under.find(cup.sheet.view(), 0.0, a);
    const double v0 = a.pockets[0].volume_m3, dt = 1e-3;
    for (int k = 1; k <= 90; ++k) {
      under.advance(std::vector{driven(a, -0.01 * v0 / dt, dt)}, a);
      a.pockets[0].volume_m3 -= 0.01 * v0;
      const double left = 1.0 - 0.01 * k;
      const double p = kAtm_Pa * std::pow(left, adiabatic ? -1.4 : -1.0);
      EXPECT_NEAR(kAtm_Pa + a.pockets[0].pressure_Pa, p, 1e-11 * p) << k;
      ++checked;
    }
    EXPECT_EQ(a.vented_kg, 0.0);
  }
  EXPECT_EQ(checked, 180);
}

TEST(TrappedAir, FollowsTheSheetBetweenLooks) {
  Cup cup;
  cup.hang(4e-3);
  const AirUnderSheet under = air_over(cup.mould, 35e-3);
  TrappedAir a, measured;
  under.find(cup.sheet.view(), 0.0, a);
  const int n = 200;
  for (int k = 0; k < n; ++k) {
    const std::vector<Vec3> before = cup.sheet.x_m, area = cup.sheet.areas_m2();
    cup.hang(4e-3 + 3e-3 * (k + 1) / n);
    std::vector<Vec3> v(before.size());
    for (std::size_t i = 0; i < v.size(); ++i) v[i] = cup.sheet.x_m[i] - before[i];
    AirUnderSheet::follow(area, v, 1.0, a);
  }
  under.find(cup.sheet.view(), 0.0, measured);
  // Columns miss the mean of a paraboloid by (spacing/cup)^2 = 0.04 %; the sum is linear in steps that move straight.
  EXPECT_NEAR(a.pockets[0].volume_m3, measured.pockets[0].volume_m3, 1e-3 * measured.pockets[0].volume_m3);
  EXPECT_LT(a.pockets[0].volume_m3, 0.9 * cup_area_m2() * (kDepth_m - 2e-3));  // it has moved: from 8 to 6.5 mm
}

// --- pockets that meet and part: a sheet over level ground, held down along lines ---

constexpr double kHalf_m = 30e-3;

/// A tent: rim on the ground, 4 mm high, on the right half `right` times that; pressed to the ground along x = 0 if
/// cut.
struct Tent {
  mould::RigidMould mould = ground(40e-3);
  GridSheet sheet{40, kHalf_m};

  void pitch(double left_m, double right_m, bool cut) {
    sheet.lay(
        [&](double x, double y) {
          if (std::max(std::fabs(x), std::fabs(y)) > kHalf_m - 1e-9) return 0.0;
          if (std::fabs(x) < 1e-9) return cut ? 0.0 : std::max(left_m, right_m);
          return x < 0.0 ? left_m : right_m;
        },
        mould);
  }
};

TEST(TrappedAir, TwoPocketsJoinAndPartAgain) {
  Tent tent;
  const AirUnderSheet under = air_over(tent.mould, kHalf_m);
  TrappedAir a;
  tent.pitch(4e-3, 4e-3, true);
  under.find(tent.sheet.view(), 1.0, a);
  ASSERT_EQ(a.pockets.size(), 2U);
  tent.pitch(2e-3, 4e-3, true);  // the left one is pressed to half its volume
  under.find(tent.sheet.view(), 2.0, a);
  ASSERT_EQ(a.pockets.size(), 2U);
  const std::vector<Pocket> apart = a.pockets;
  EXPECT_NEAR(apart[0].pressure_Pa, kAtm_Pa, 1e-9 * kAtm_Pa);  // 2 atm; volumes are in proportion to the height
  EXPECT_NEAR(apart[1].pressure_Pa, 0.0, 1e-9 * kAtm_Pa);

  tent.pitch(2e-3, 4e-3, false);
  under.find(tent.sheet.view(), 3.0, a);
  ASSERT_EQ(a.pockets.size(), 1U);
  EXPECT_NEAR(a.pockets[0].mass_kg, apart[0].mass_kg + apart[1].mass_kg, kRounding * a.pockets[0].mass_kg);
  EXPECT_NEAR((kAtm_Pa + a.pockets[0].pressure_Pa) * a.pockets[0].volume_m3, a.pockets[0].mass_kg * kRT,
              kRounding * a.pockets[0].mass_kg * kRT);
  EXPECT_EQ(a.pockets[0].name, apart[0].mass_kg >= apart[1].mass_kg ? 0 : 1);  // of the one that gave most
  EXPECT_EQ(a.pockets[0].closed_s, 1.0);

  tent.pitch(2e-3, 4e-3, true);
  under.find(tent.sheet.view(), 4.0, a);
  ASSERT_EQ(a.pockets.size(), 2U);
  const double sum = a.pockets[0].mass_kg + a.pockets[1].mass_kg;
  EXPECT_NEAR(sum, apart[0].mass_kg + apart[1].mass_kg, 1e-9 * sum);  // asked for; measured to round-off below
  EXPECT_NEAR(sum, apart[0].mass_kg + apart[1].mass_kg, kRounding * sum);
  // By volume: both sides come out at one pressure.
  EXPECT_NEAR(a.pockets[0].mass_kg / sum, a.pockets[0].volume_m3 / (a.pockets[0].volume_m3 + a.pockets[1].volume_m3),
              kRounding);
  EXPECT_NEAR(a.pockets[0].pressure_Pa, a.pockets[1].pressure_Pa, kRounding * kAtm_Pa);
  EXPECT_NE(a.pockets[0].name, a.pockets[1].name);
  EXPECT_NEAR(books_kg(a), a.shut_in_kg, 1e-9 * a.shut_in_kg);
}

TEST(TrappedAir, AdiabaticPocketsMixTheirEnergy) {
  Tent tent;
  AirOptions options = air_options(kSheet_m);
  options.adiabatic = true;
  const AirUnderSheet under = air_over(tent.mould, kHalf_m, {}, options);
  TrappedAir a;
  tent.pitch(4e-3, 4e-3, true);
  under.find(tent.sheet.view(), 0.0, a);
  tent.pitch(2e-3, 4e-3, true);
  under.find(tent.sheet.view(), 0.0, a);
  const double left = kAtm_Pa + a.pockets[0].pressure_Pa;
  EXPECT_NEAR(left, kAtm_Pa * std::pow(2.0, 1.4), 1e-9 * left);
  // Without doing work: sum of p V stays. The line between them makes some room in which the gas then expands.
  const double v = a.pockets[0].volume_m3 + a.pockets[1].volume_m3;
  const double mixed = (left * a.pockets[0].volume_m3 + kAtm_Pa * a.pockets[1].volume_m3) / v;
  tent.pitch(2e-3, 4e-3, false);
  under.find(tent.sheet.view(), 0.0, a);
  ASSERT_EQ(a.pockets.size(), 1U);
  const double expected = mixed * std::pow(v / a.pockets[0].volume_m3, 1.4);
  EXPECT_NEAR(kAtm_Pa + a.pockets[0].pressure_Pa, expected, 1e-11 * expected);
}

TEST(TrappedAir, SqueezedFreedAndShutInAgain) {
  Tent tent;
  const AirUnderSheet under = air_over(tent.mould, kHalf_m);
  TrappedAir a;
  tent.pitch(4e-3, 4e-3, true);
  under.find(tent.sheet.view(), 0.0, a);
  const double left = a.pockets[0].mass_kg, right = a.pockets[1].mass_kg;
  tent.pitch(0.0, 3e-3, true);  // the left half lies flat
  under.find(tent.sheet.view(), 0.0, a);
  ASSERT_EQ(a.pockets.size(), 1U);
  EXPECT_EQ(a.squeezed_kg, left);
  EXPECT_NEAR(a.in_pockets_kg(), right, kRounding * right);
  EXPECT_EQ(a.pockets[0].name, 1);  // whatever its place in the list

  // A film of less than film_m is no pocket either.
  tent.pitch(0.0, 0.5 * under.options().film_m, true);
  under.find(tent.sheet.view(), 0.0, a);
  EXPECT_EQ(a.pockets.size(), 0U);
  EXPECT_NEAR(a.squeezed_kg, left + right, kRounding * right);

  // It lifts off again from all over: air has come back along the way it left, at the pressure outside.
  tent.pitch(0.0, 3e-3, true);
  under.find(tent.sheet.view(), 0.0, a);
  ASSERT_EQ(a.pockets.size(), 1U);
  EXPECT_NEAR(a.pockets[0].pressure_Pa, 0.0, kRounding * kAtm_Pa);

  // The rim comes up on that side.
  for (std::size_t i = 0; i < a.pocket_of.size(); ++i)
    if (tent.sheet.on_rim[i] && tent.sheet.x_m[i].x() > 1e-9) tent.sheet.x_m[i].z() = 3e-3, tent.sheet.touching[i] = 0;
  const double held = a.in_pockets_kg();
  under.find(tent.sheet.view(), 0.0, a);
  EXPECT_EQ(a.pockets.size(), 0U);
  EXPECT_EQ(a.freed_kg, held);
  EXPECT_NEAR(books_kg(a), a.shut_in_kg, kRounding * a.shut_in_kg);
  EXPECT_EQ(a.pocket_of[at(tent.sheet.node(30, 20))], kOpenAir);
}

TEST(TrappedAir, OptionsSuitThinSheetToo) {
  for (const double h : {0.05e-3, 1e-3, 10e-3}) {
    const AirOptions o = air_options(h);
    EXPECT_GT(o.film_m, o.roughness_m) << h;
    EXPECT_NO_THROW(air_over(ground(40e-3), kHalf_m, {}, o)) << h;
  }
}

TEST(TrappedAir, RimAndPlatformLetOutWhatTheyShould) {
  // A bell over the bare platform, its rim free at z: within a thickness of the platform it seals.
  const mould::RigidMould platform({}, true);
  GridSheet sheet(20, kHalf_m);
  const auto pockets = [&](double rim_m, AirOptions options) {
    sheet.lay([&](double x,
                  double y) { return std::max(std::fabs(x), std::fabs(y)) > kHalf_m - 1e-9 ? rim_m : rim_m + 5e-3; },
              platform);
    TrappedAir a;
    air_over(platform, kHalf_m, {}, options).find(sheet.view(), 0.0, a);
    return a.pockets.size();
  };
  AirOptions options = air_options(kSheet_m);
  EXPECT_EQ(pockets(0.0, options), 0U);  // perforated
  options.platform_leaks = false;
  EXPECT_EQ(pockets(0.0, options), 1U);
  EXPECT_EQ(pockets(0.9 * kSheet_m, options), 1U);
  EXPECT_EQ(pockets(1.1 * kSheet_m, options), 0U);
  // With neither mould nor platform below, nothing is shut in.
  const mould::RigidMould nothing({}, false);
  TrappedAir a;
  sheet.touching.assign(sheet.x_m.size(), 0);
  for (std::size_t i = 0; i < sheet.x_m.size(); ++i) sheet.touching[i] = sheet.on_rim[i];
  air_over(nothing, kHalf_m).find(sheet.view(), 0.0, a);
  EXPECT_EQ(a.pockets.size(), 0U);
}

// Middles of edges are added at the end, as refinement does: the air stays where it is.
TEST(TrappedAir, RefinementMovesNoAir) {
  Tent tent;
  const AirUnderSheet under = air_over(tent.mould, kHalf_m);
  TrappedAir a;
  tent.pitch(4e-3, 4e-3, true);
  under.find(tent.sheet.view(), 0.0, a);
  tent.pitch(2e-3, 3e-3, true);
  under.find(tent.sheet.view(), 0.0, a);
  const TrappedAir before = a;
  GridSheet& s = tent.sheet;
  std::vector<mesh::Triangle> cut;
  for (const mesh::Triangle& t : s.triangles) {  // into three at the middle
    const int m = static_cast<int>(s.x_m.size());
    s.x_m.push_back((s.x_m[at(t[0])] + s.x_m[at(t[1])] + s.x_m[at(t[2])]) / 3.0);
    s.on_rim.push_back(0);
    s.touching.push_back(s.touching[at(t[0])] && s.touching[at(t[1])] && s.touching[at(t[2])]);
    for (std::size_t k = 0; k < 3; ++k) cut.push_back({t[k], t[(k + 1) % 3], m});
  }
  s.triangles = cut;
  EXPECT_EQ(a.pressure_Pa(static_cast<int>(s.x_m.size()) - 1), 0.0);  // not yet looked at
  under.find(s.view(), 0.0, a);
  ASSERT_EQ(a.pockets.size(), 2U);
  for (std::size_t k = 0; k < 2; ++k) {
    EXPECT_EQ(a.pockets[k].name, before.pockets[k].name);
    EXPECT_NEAR(a.pockets[k].mass_kg, before.pockets[k].mass_kg, kRounding * a.pockets[k].mass_kg);
    EXPECT_NEAR(a.pockets[k].volume_m3, before.pockets[k].volume_m3, kRounding * a.pockets[k].volume_m3);
  }
  EXPECT_EQ(a.shut_in_kg, before.shut_in_kg);
}

// --- against a plain flood, and for any number of threads ---

/// Spreads from node to node until nothing changes; numbers by the lowest node.
std::vector<int> flooded(const GridSheet& s) {
  std::vector<int> part(s.x_m.size(), -1);
  for (std::size_t i = 0; i < part.size(); ++i)
    if (!s.touching[i]) part[i] = static_cast<int>(i);
  for (bool changed = true; changed;) {
    changed = false;
    for (const mesh::Triangle& t : s.triangles)
      for (const int i : t)
        for (const int j : t)
          if (!s.touching[at(i)] && !s.touching[at(j)] && part[at(j)] < part[at(i)]) {
            part[at(i)] = part[at(j)];
            changed = true;
          }
  }
  return part;
}

GridSheet random_sheet(std::mt19937& random, double share_touching) {
  GridSheet s(40, kHalf_m);
  std::uniform_real_distribution<double> u(0.0, 1.0);
  for (std::size_t i = 0; i < s.x_m.size(); ++i) {
    s.touching[i] = s.on_rim[i] || u(random) < share_touching;
    s.x_m[i].z() = s.touching[i] ? 0.0 : 1e-3 * (1.0 + u(random));
  }
  return s;
}

TEST(TrappedAir, PocketsAreThoseOfAPlainFlood) {
  const mould::RigidMould mould = ground(40e-3);
  const AirUnderSheet under = air_over(mould, kHalf_m);
  std::mt19937 random(7);
  std::size_t most = 0;
  for (const double share : {0.2, 0.5, 0.7, 0.9}) {
    const GridSheet s = random_sheet(random, share);
    TrappedAir a;
    under.find(s.view(), 0.0, a);
    const std::vector<int> part = flooded(s);
    std::vector<int> lowest(a.pockets.size(), -1);
    double volume = 0.0;
    for (std::size_t i = 0; i < part.size(); ++i) {
      if (part[i] < 0) {
        ASSERT_EQ(a.pocket_of[i], kTouches);
        continue;
      }
      ASSERT_GE(a.pocket_of[i], 0);
      int& first = lowest[at(a.pocket_of[i])];
      if (first < 0) first = part[i];
      ASSERT_EQ(first, part[i]);
    }
    std::sort(lowest.begin(), lowest.end());
    EXPECT_EQ(std::adjacent_find(lowest.begin(), lowest.end()), lowest.end());  // no part is two pockets
    for (const Pocket& p : a.pockets) volume += p.volume_m3;
    EXPECT_NEAR(a.in_pockets_kg(), kAtm_Pa * volume / kRT, kRounding * a.in_pockets_kg());
    most = std::max(most, a.pockets.size());
  }
  EXPECT_GT(most, 20U);
}

// From a random state to the next random state pockets split, join, vanish and appear all at once.
TEST(TrappedAir, BooksBalanceWhateverHappens) {
  const mould::RigidMould mould = ground(40e-3);
  std::vector<PlacedVent> vents{{{1e-3, 2e-3}, {0.3e-3, 2e-3}}, {{-9e-3, 12e-3}, {0.5e-3, 2e-3}}};
  AirOptions options = air_options(kSheet_m);
  options.adiabatic = true;
  const AirUnderSheet under = air_over(mould, kHalf_m, vents, options);
  std::mt19937 random(3);
  TrappedAir a;
  std::vector<VolumeResponse> responses;
  int checked = 0, in_pockets = 0;
  for (int k = 0; k < 60; ++k) {
    GridSheet s = random_sheet(random, 0.3 + 0.4 * (k % 3) / 2.0);
    if (k % 7 == 6) s.touching[5] = 0, s.x_m[5].z() = 5e-3;  // the rim opens somewhere
    under.find(s.view(), 1e-3 * k, a);
    responses.assign(a.pockets.size(), {});
    for (std::size_t p = 0; p < responses.size(); ++p)
      responses[p] = {a.pockets[p].volume_m3, -0.3 * a.pockets[p].volume_m3 / 1e-3, 0.0, 1e-3};
    under.advance(responses, a);
    for (const int v : a.vent_of) in_pockets += v >= 0;
    for (const Pocket& p : a.pockets) ASSERT_TRUE(std::isfinite(p.pressure_Pa) && p.mass_kg > 0.0);
    EXPECT_NEAR(books_kg(a), a.shut_in_kg, 1e-9 * a.shut_in_kg) << k;
    ++checked;
  }
  EXPECT_EQ(checked, 60);
  EXPECT_GT(in_pockets, 20);
  EXPECT_GT(a.vented_kg, 0.0);
  EXPECT_GT(a.freed_kg, 0.0);
  EXPECT_GT(a.squeezed_kg, 0.0);
}

TEST(TrappedAir, SameBitsForAnyThreads) {
  const mould::RigidMould mould = ground(40e-3);
  const int before = omp_get_max_threads();
  std::vector<TrappedAir> all;
  for (const int threads : {1, 2, 3, 4}) {
    omp_set_num_threads(threads);
    const AirUnderSheet under = air_over(mould, kHalf_m, {{{1e-3, 2e-3}, {0.3e-3, 2e-3}}});
    std::mt19937 random(11);
    TrappedAir a;
    for (int k = 0; k < 3; ++k) under.find(random_sheet(random, 0.5).view(), k, a);
    all.push_back(a);
  }
  omp_set_num_threads(before);
  ASSERT_GT(all[0].pockets.size(), 10U);
  for (const TrappedAir& a : all) {
    ASSERT_EQ(a.pocket_of, all[0].pocket_of);
    ASSERT_EQ(a.pockets.size(), all[0].pockets.size());
    for (std::size_t k = 0; k < a.pockets.size(); ++k) {
      EXPECT_EQ(a.pockets[k].mass_kg, all[0].pockets[k].mass_kg);
      EXPECT_EQ(a.pockets[k].volume_m3, all[0].pockets[k].volume_m3);
      EXPECT_EQ(a.pockets[k].pressure_Pa, all[0].pockets[k].pressure_Pa);
    }
    EXPECT_EQ(a.squeezed_kg, all[0].squeezed_kg);
  }
}

// --- vents ---

double hole_m2(double d_m) { return 0.25 * std::numbers::pi * d_m * d_m; }

TEST(TrappedAir, VentServesThePocketItLiesIn) {
  Tent tent;
  const air::Hole hole{0.5e-3, 2e-3};
  const AirUnderSheet under =
      air_over(tent.mould, kHalf_m,
               {{{10e-3, 0.0}, hole}, {{-10e-3, 1e-3}, hole}, {{39e-3, 0.0}, hole}, {{-10.1e-3, 1.3e-3}, hole}});
  TrappedAir a;
  tent.pitch(4e-3, 4e-3, true);
  under.find(tent.sheet.view(), 0.0, a);
  const int left = a.pocket_of[at(tent.sheet.node(10, 20))], right = a.pocket_of[at(tent.sheet.node(30, 20))];
  EXPECT_NE(left, right);
  EXPECT_EQ(a.vent_of, (std::vector<int>{right, left, kOpenAir, left}));
  tent.pitch(0.0, 4e-3, true);
  under.find(tent.sheet.view(), 0.0, a);
  EXPECT_EQ(a.vent_of, (std::vector<int>{0, kCovered, kOpenAir, kCovered}));
}

/// The cup at rest, full of air at so much, emptying through a hole until so much.
double time_to_empty_s(const air::Hole& hole, double from_Pa, double to_Pa, double dt_s, double& volume_m3) {
  Cup cup;
  cup.hang(0.0);
  const AirUnderSheet under = air_over(cup.mould, 35e-3, {{{0.0, 0.0}, hole}});
  TrappedAir a;
  under.find(cup.sheet.view(), 0.0, a);
  a.pockets[0].mass_kg *= from_Pa / kAtm_Pa;
  volume_m3 = a.pockets[0].volume_m3;
  double last = from_Pa, t = 0.0;
  for (;;) {
    under.advance(std::vector{driven(a, 0.0, dt_s)}, a);
    const double p = kAtm_Pa + a.pockets[0].pressure_Pa;
    if (p <= to_Pa) return t + dt_s * (last - to_Pa) / (last - p);
    last = p, t += dt_s;
  }
}

// Against the closed form (choked) and the quadrature (not choked) of air/vent. Backward Euler errs by the first order
// in the step: below 1 % in 200 steps, and half of that in twice as many.
TEST(TrappedAir, EmptiesInTheTimeOfTheRigidVolume) {
  const air::Hole hole{0.5e-3, 2e-3};
  int checked = 0;
  for (const auto& [from, to] : {std::pair{5e5, 2.5e5}, std::pair{1.7e5, 1.05e5}, std::pair{5e5, 1.02e5}}) {
    double v = 0.0;
    const double guess = air::emptying_time_s(hole, cup_area_m2() * kDepth_m, from, to);
    const double coarse = time_to_empty_s(hole, from, to, guess / 200, v);
    const double fine = time_to_empty_s(hole, from, to, guess / 400, v);
    const double exact = air::emptying_time_s(hole, v, from, to);
    EXPECT_NEAR(coarse, exact, 0.01 * exact);
    EXPECT_NEAR((coarse - exact) / (fine - exact), 2.0, 0.2);  // first order; the next term is of order 1/200
    ++checked;
  }
  EXPECT_EQ(checked, 3);
}

// The sheet draws back to twice the volume: air comes in by the vent until the pressure is that outside again. Time by
// hand for the worst of it: choked from outside to half full, m/m' = V0/(K), K = m' R T/p of the hole.
TEST(TrappedAir, AirComesBackByTheVent) {
  Cup cup;
  cup.hang(0.0);
  const double d = 0.5e-3;
  const AirUnderSheet under = air_over(cup.mould, 35e-3, {{{0.0, 0.0}, {d, 2e-3}}});
  TrappedAir a;
  under.find(cup.sheet.view(), 0.0, a);
  const double v0 = a.pockets[0].volume_m3, mass = a.pockets[0].mass_kg, dt = 1e-3;
  under.advance(std::vector{driven(a, v0 / 1e-6, 1e-6)}, a);  // at once
  a.pockets[0].volume_m3 = 2.0 * v0;
  EXPECT_NEAR(a.pockets[0].pressure_Pa, -0.5 * kAtm_Pa, 1e-4 * kAtm_Pa);  // 1 us of inflow
  EXPECT_LT(a.vented_kg, 0.0);
  double t = 0.0;
  while (a.pockets[0].mass_kg < 1.99 * mass && t < 10.0) under.advance(std::vector{driven(a, 0.0, dt)}, a), t += dt;
  const double K = air::mass_flow_kg_s(kAtm_Pa, 0.1 * kAtm_Pa, hole_m2(d)) * kRT / kAtm_Pa;
  EXPECT_GT(t, 0.99 * v0 / K);  // it chokes in the beginning and slows down to the end
  EXPECT_LT(t, 2.0 * v0 / K);
  EXPECT_NEAR(a.vented_kg, -0.99 * mass, 0.01 * mass);
  EXPECT_NEAR(books_kg(a), a.shut_in_kg, kRounding * mass);
  for (int k = 0; k < 3000; ++k) under.advance(std::vector{driven(a, 0.0, dt)}, a);
  EXPECT_NEAR(a.pockets[0].pressure_Pa, 0.0, 1e-6 * kAtm_Pa);
}

// A light sheet under 4 bar drives the air out of a cup: the pocket stays at the pressure of the drive, the hole is
// choked, and all of it has left after t = p V0/(m' R T) = V0/(Cd (pi/4) d^2 0.0404 sqrt(T) R), the first of it having
// been compressed at once. By hand for 19.6 cm^3 at 1 bar, 3.9 cm^3 at 5 bar: 0.403, 0.145 and 0.036 s.
TEST(TrappedAir, VentedCupFillsInTheTimeWorkedByHand) {
  Cup cup;
  cup.hang(0.0);
  constexpr double drive_Pa = 4e5;
  int checked = 0;
  for (const auto& [d, by_hand_s] : {std::pair{0.3e-3, 0.403}, std::pair{0.5e-3, 0.145}, std::pair{1.0e-3, 0.0363}}) {
    const AirUnderSheet under = air_over(cup.mould, 35e-3, {{{2e-3, 1e-3}, {d, 2e-3}}});
    TrappedAir a;
    under.find(cup.sheet.view(), 0.0, a);
    const double v0 = a.pockets[0].volume_m3, dt = by_hand_s / 2000;
    const double kept_m3 = 0.02 * v0 * kAtm_Pa / (kAtm_Pa + drive_Pa);  // 2 % of it is left
    // Next to no inertia: it gives way by a full volume for a hundredth of the drive within one step.
    const double soft = v0 / (0.01 * drive_Pa * dt);
    double t = 0.0;
    while (a.pockets[0].volume_m3 > kept_m3 && t < 1.0) {
      const VolumeResponse r{a.pockets[0].volume_m3, -soft * drive_Pa, soft, dt};
      under.advance(std::vector{r}, a);
      a.pockets[0].volume_m3 += dt * (r.rate_m3_s + soft * a.pockets[0].pressure_Pa);
      t += dt;
      if (t > 0.1 * by_hand_s) {
        EXPECT_NEAR(a.pockets[0].pressure_Pa, drive_Pa, 0.02 * drive_Pa);
      }
    }
    const double full = kAtm_Pa * v0 / (air::hole_flow_kg_s({d, 2e-3}, kAtm_Pa + drive_Pa, kAtm_Pa) * kRT);
    EXPECT_NEAR(full, by_hand_s, 0.01 * by_hand_s);  // to the digits worked by hand
    EXPECT_NEAR(t, 0.98 * full, 0.005 * full);       // steps of 1/2000, the sheet's start, a give of 0.1 %
    EXPECT_NEAR(a.vented_kg, 0.98 * a.shut_in_kg, 0.002 * a.shut_in_kg);
    ++checked;
  }
  EXPECT_EQ(checked, 3);
}

// A sheet that comes down at a steady speed over a choked hole: dm/m = -K dt/V, V = V0 (1 - t/T), so
// p/p0 = (1 - t/T)^(K T/V0 - 1), K = m' R T/p.
TEST(TrappedAir, SteadySheetOverAChokedHole) {
  Cup cup;
  cup.hang(0.0);
  const air::Hole hole{0.5e-3, 2e-3};
  const AirUnderSheet under = air_over(cup.mould, 35e-3, {{{0.0, 0.0}, hole}});
  TrappedAir a;
  under.find(cup.sheet.view(), 0.0, a);
  constexpr double p0 = 3e5;
  a.pockets[0].mass_kg *= p0 / kAtm_Pa;
  const double v0 = a.pockets[0].volume_m3, K = air::mass_flow_kg_s(p0, kAtm_Pa, hole_m2(hole.diameter_m)) * kRT / p0;
  const double T = 0.5 * v0 / K;
  const int n = 4000;
  int checked = 0;
  for (int k = 1; k <= n * 8 / 10; ++k) {
    under.advance(std::vector{driven(a, -v0 / T, T / n)}, a);
    a.pockets[0].volume_m3 -= v0 / n;
    if (k % 400 == 0) {
      const double p = p0 * std::pow(1.0 - static_cast<double>(k) / n, K * T / v0 - 1.0);
      EXPECT_NEAR(kAtm_Pa + a.pockets[0].pressure_Pa, p, 2e-3 * p);  // first order: K T/V0 / (n (1 - t/T)) = 6e-4
      ++checked;
    }
  }
  EXPECT_EQ(checked, 8);
}

// --- a stiff spring ---

// A plate on a cushion: w^2 = p A/(gap m). With a step ten times 1/w an explicit pressure throws it out; taken
// implicitly it comes to rest where it should, at gap = gap0 p0/(p0 + weight).
TEST(TrappedAir, ThinCushionSetsNoStep) {
  Cup cup;
  cup.hang(0.0);
  const AirUnderSheet under = air_over(cup.mould, 35e-3);
  TrappedAir a;
  under.find(cup.sheet.view(), 0.0, a);
  const double v0 = a.pockets[0].volume_m3, area = cup_area_m2(), mass = 1e-3, drive_Pa = 2e5;
  const double w = std::sqrt(kAtm_Pa * area * area / (v0 * mass)), dt = 10.0 / w;
  double velocity = 0.0, explicit_v = v0, explicit_velocity = 0.0, worst = 0.0;
  for (int k = 0; k < 2000; ++k) {
    const double free_velocity = velocity - dt * drive_Pa * area / mass;
    const VolumeResponse r{a.pockets[0].volume_m3, free_velocity * area, dt * area * area / mass, dt};
    under.advance(std::vector{r}, a);
    velocity = free_velocity + dt * a.pockets[0].pressure_Pa * area / mass;
    a.pockets[0].volume_m3 += dt * velocity * area;
    EXPECT_GT(a.pockets[0].volume_m3, 0.0);
    if (std::fabs(worst) < 1e6) {
      const double p = kAtm_Pa * v0 / std::max(explicit_v, 1e-3 * v0) - kAtm_Pa;
      explicit_velocity += dt * (p - drive_Pa) * area / mass;
      explicit_v += dt * explicit_velocity * area;
      worst = std::max(worst, std::fabs(explicit_v / v0));
    }
  }
  EXPECT_GT(worst, 100.0);  // the same plate without it
  const double rest = v0 * kAtm_Pa / (kAtm_Pa + drive_Pa);
  EXPECT_NEAR(a.pockets[0].volume_m3, rest, 1e-6 * rest);  // backward Euler damps it by a power of 1/10 a step
  EXPECT_NEAR(a.pockets[0].pressure_Pa, drive_Pa, 1e-6 * drive_Pa);
}

// Pressed down far beyond what there is, a pocket keeps the height of the roughness.
TEST(TrappedAir, VolumeHasAFloor) {
  Cup cup;
  cup.hang(0.0);
  const AirUnderSheet under = air_over(cup.mould, 35e-3);
  TrappedAir a;
  under.find(cup.sheet.view(), 0.0, a);
  const double v0 = a.pockets[0].volume_m3;
  under.advance(std::vector{driven(a, -2.0 * v0, 1.0)}, a);
  const double least = under.options().roughness_m * a.pockets[0].area_m2;
  EXPECT_NEAR(kAtm_Pa + a.pockets[0].pressure_Pa, kAtm_Pa * v0 / least, 1e-9 * kAtm_Pa * v0 / least);
}

TEST(TrappedAir, PushOfAPocketIsThatOfItsNodes) {
  Cup cup;
  cup.hang(3e-3);
  const AirUnderSheet under = air_over(cup.mould, 35e-3);
  TrappedAir a;
  under.find(cup.sheet.view(), 0.0, a);
  const std::vector<Vec3> area = cup.sheet.areas_m2();
  const std::vector<double> mass(area.size(), 2e-6);
  std::vector<char> gives(area.size(), 1);
  gives[at(cup.sheet.node(23, 23))] = 0;
  std::vector<Vec3> v(area.size(), Vec3(0.0, 0.0, -0.5));
  std::vector<VolumeResponse> out;
  AirUnderSheet::gives({area, v, mass, gives, 1e-5, 2e-5}, a, out);
  ASSERT_EQ(out.size(), 1U);
  double rate = 0.0, soft = 0.0;
  for (std::size_t i = 0; i < area.size(); ++i) {
    if (cup.sheet.touching[i]) continue;
    rate += area[i].dot(v[i]);
    if (gives[i]) soft += 2e-5 * area[i].squaredNorm() / 2e-6;
  }
  EXPECT_NEAR(out[0].rate_m3_s, rate, kRounding * std::fabs(rate));
  EXPECT_NEAR(out[0].softness_m3_sPa, soft, kRounding * soft);
  EXPECT_NEAR(rate, -0.5 * cup_area_m2(), 0.1 * 0.5 * cup_area_m2());  // without the half ring at the border
  EXPECT_EQ(out[0].dt_s, 1e-5);
  // Broken motion is an error, not a pressure.
  v[at(cup.sheet.node(22, 22))].z() = std::nan("");
  AirUnderSheet::gives({area, v, mass, gives, 1e-5, 2e-5}, a, out);
  EXPECT_THROW(under.advance(out, a), Error);
}

}  // namespace
}  // namespace pellicle::forming
