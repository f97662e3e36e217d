// Are layers cut where they should, is the set depth where it belongs, and is the cooling time that of the closed form?
#include "solver/sheet/heat_layers.h"

#include "solver/reference/heat.h"
#include "tests/solver/sheet/heat_samples.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

namespace pellicle::sheet {
namespace {

TEST(HeatLayers, AreFourWithAThinSkin) {
  int checked = 0;
  for (const int cells : {8, 12, 16}) {
    const std::vector<double> edges = heat_cell_edges(cells);
    const std::vector<int> first = layer_cells(edges);
    ASSERT_EQ(first.size(), 5U) << cells;
    EXPECT_EQ(first.front(), 0);
    EXPECT_EQ(first.back(), cells);
    EXPECT_NEAR(edges[static_cast<std::size_t>(first[1])], 0.1, 0.05) << "a cell there is 0.06 to 0.09 wide with eight";
    ++checked;
  }
  EXPECT_EQ(checked, 3);
}

TEST(HeatLayers, CutWhereAsked) {
  const std::vector<double> edges{0.0, 0.1, 0.3, 0.6, 1.0};
  const auto cells = [&](std::vector<double> cuts) { return layer_cells(edges, cuts); };
  EXPECT_EQ(cells({}), (std::vector{0, 4}));
  EXPECT_EQ(cells({0.28}), (std::vector{0, 2, 4}));
  EXPECT_EQ(cells({0.29, 0.31}), (std::vector{0, 2, 4})) << "both fall on the same edge";
  EXPECT_EQ(cells({0.02}), (std::vector{0, 4})) << "nearest to the face itself";
  EXPECT_THROW(cells({1.2}), std::logic_error);
}

TEST(HeatLayers, SetDepthIsWhereTheLineCrosses) {
  // Middles of cells at 0.05, 0.2, 0.45, 0.8 of 1 mm.
  const HeatProfile profile{1e-3, {0.0, 0.1, 0.3, 0.6, 1.0}, {300.0, 320.0, 340.0, 330.0}, 290.0, 310.0};
  EXPECT_DOUBLE_EQ(set_depth(profile, 280.0).mould_side_m, 0.0);
  EXPECT_DOUBLE_EQ(set_depth(profile, 280.0).free_side_m, 0.0);
  EXPECT_NEAR(set_depth(profile, 295.0).mould_side_m, 0.025e-3, 1e-15);  // between the face and the first middle
  EXPECT_NEAR(set_depth(profile, 330.0).mould_side_m, 0.325e-3, 1e-15);  // half way from 0.2 to 0.45
  EXPECT_NEAR(set_depth(profile, 320.0).free_side_m, 0.1e-3, 1e-15);     // half way from the face to 0.8
  EXPECT_NEAR(set_depth(profile, 350.0).mould_side_m, 1e-3, 1e-18);
  EXPECT_NEAR(set_depth(profile, 350.0).free_side_m, 1e-3, 1e-18);
}

// On a mould the chilled skin grows as 2 eta sqrt(alpha t), erf(eta) = (T_set - T_joint)/(T_hot - T_joint), in perfect
// contact (Carslaw & Jaeger 1959, 2.15, from memory): the neighbour's error function cut at the set temperature.
TEST(HeatLayers, SkinGrowsWithTheRootOfTime) {
  const double e = kPolystyrene.effusivity_Ws05_m2K(), set_K = 358.15;  // 85 °C
  const double joint_K = (e * kHot_K + kResin * kMould_K) / (e + kResin);
  double eta = 0.0;
  while (std::erf(eta) < (set_K - joint_K) / (kHot_K - joint_K)) eta += 1e-6;
  Place place;
  place.touch(1e7, kResin);
  for (const double t_s : {0.1, 0.2, 0.4}) {
    place.steps(20, (t_s > 0.1 ? 0.5 : 1.0) * t_s / 20.0);
    const double depth_m = 2.0 * eta * std::sqrt(kPolystyrene.diffusivity_m2_s() * t_s);
    // The profile is off by up to 0.3 K there and rises by 60 K over 2 sqrt(alpha t).
    EXPECT_NEAR(set_depth(heat_profile(place.state, 0), set_K).mould_side_m / depth_m, 1.0, 0.1) << t_s;
  }
}

CoolingWall off_the_mould(int cells, double film_W_m2K) {
  const Place place(cells);
  return {kPolystyrene, heat_profile(place.state, 0), {film_W_m2K, 293.15}, {0.0, 293.15}};
}

// Cooled from one side in air: the hottest cell is the first, at the insulated side; its time by halving the series.
TEST(CoolingTime, FollowsTheSeriesOfTheFilm) {
  const double set_K = 358.15, share = (set_K - 293.15) / (kHot_K - 293.15);
  int checked = 0;
  for (const double film_W_m2K : {20.0, 60.0, 150.0}) {  // still air to a strong fan
    const double biot = film_W_m2K * kSheet_m / kPolystyrene.conductivity_W_mK;
    double low = 0.0, high = 100.0;
    for (int k = 0; k < 50; ++k) {
      const double middle = 0.5 * (low + high);
      (reference::slab_film(0.0, middle, biot) > share ? low : high) = middle;
    }
    const double exact_s = low * kSheet_m * kSheet_m / kPolystyrene.diffusivity_m2_s();
    const double found_s = cooling_time_s(off_the_mould(12, film_W_m2K), set_K, 1e4);
    EXPECT_NEAR(found_s / exact_s, 1.0, 2e-3) << film_W_m2K;  // error of twelve cells 0.1 K of 60 K, and of the clock
    ++checked;
  }
  EXPECT_EQ(checked, 3);
}

TEST(CoolingTime, FanMouldAndThicknessActTheRightWay) {
  const double set_K = 358.15;
  const double still_s = cooling_time_s(off_the_mould(12, 20.0), set_K, 1e4);
  EXPECT_LT(cooling_time_s(off_the_mould(12, 80.0), set_K, 1e4), 0.4 * still_s);

  Place place;
  place.free_side = {20.0, 293.15};
  place.touch(1000.0, kResin);
  const auto on_mould = [&] {
    return cooling_wall(place.state, 0,
                        {1.0, place.thickness_m, place.contact_s, place.effusivity, place.contact_W_m2K,
                         place.free_side, place.open_side});
  };
  const double resin_s = cooling_time_s(on_mould(), set_K, 1e4);
  place.touch(1000.0, kAluminium);
  const double metal_s = cooling_time_s(on_mould(), set_K, 1e4);
  EXPECT_LT(resin_s, still_s);
  EXPECT_LT(metal_s, 0.7 * resin_s);

  CoolingWall thin = on_mould();
  thin.profile.thickness_m *= 0.5;
  EXPECT_LT(cooling_time_s(thin, set_K, 1e4), 0.5 * metal_s) << "between h and h^2";
}

// From the middle of a run: what is left is the whole time less what has passed.
TEST(CoolingTime, GoesOnFromWhereTheSheetIs) {
  Place place;
  place.free_side = {20.0, 293.15};
  place.touch(1000.0, kResin);
  const auto rest_s = [&] {
    return cooling_time_s(cooling_wall(place.state, 0,
                                       {1.0, place.thickness_m, place.contact_s, place.effusivity, place.contact_W_m2K,
                                        place.free_side, place.open_side}),
                          358.15, 1e4);
  };
  const double whole_s = rest_s();
  place.steps(100, 0.01);
  EXPECT_GT(whole_s, 2.0);
  EXPECT_NEAR(rest_s(), whole_s - 1.0, 2e-3 * whole_s);
}

TEST(CoolingTime, SaysSoWhereNothingSets) {
  EXPECT_EQ(cooling_time_s(off_the_mould(12, 20.0), 420.0, 1e4), 0.0) << "set already";
  EXPECT_EQ(cooling_time_s(off_the_mould(12, 20.0), 290.0, 1e3), std::numeric_limits<double>::infinity());
  EXPECT_EQ(cooling_time_s(off_the_mould(12, 0.0), 358.15, 1e3), std::numeric_limits<double>::infinity());
}

}  // namespace
}  // namespace pellicle::sheet
