// What does a table of temperatures say of each place, and which tables are refused?
#include "io/heater/map_file.h"

#include "mesh/check.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <string>

namespace pellicle::heater {
namespace {

const mesh::Outline kDisc{mesh::Disc{0.1}, mesh::Vec2(0.01, -0.02)};

/// A plane through scattered points comes back anywhere between them: exact but for what holds the slopes, a millionth.
TEST(HeaterTable, AnEvenSlopeComesBack) {
  std::string text = "# pyrometer, six places\nx_mm,y_mm,temperature_C\n";
  const auto field_C = [](double x_mm, double y_mm) { return 140.0 + 0.2 * x_mm - 0.1 * y_mm; };
  for (const auto& [x, y] :
       {std::pair{-60.0, -80.0}, {80.0, -80.0}, {-50.0, 60.0}, {75.0, 50.0}, {5.0, -10.0}, {20.0, 31.0}})
    text += fmt::format("{},{},{}\n", x, y, field_C(x, y));
  const sheet::TemperatureMap map = read_table(text, "heater.csv", kDisc);
  int checked = 0;
  for (double x = -30.0; x <= 50.0; x += 8.0)
    for (double y = -60.0; y <= 20.0; y += 8.0) {
      EXPECT_NEAR(map({1e-3 * x, 1e-3 * y}).mould_side_K - 273.15, field_C(x, y), 0.01) << x << " " << y;
      ++checked;
    }
  EXPECT_GT(checked, 100);
  EXPECT_NEAR(mean_K(map, kDisc) - 273.15, field_C(10.0, -20.0), 0.05);  // mean of a plane: in the middle
}

/// A hot spot is found at its place, is never passed beyond, and one point alone is the same everywhere.
TEST(HeaterTable, ASpotStandsAtItsPlaceAndASinglePointEverywhere) {
  const sheet::TemperatureMap map = read_table(
      "x_mm,y_mm,temperature_C\n-30,0,130\n50,0,130\n10,30,130\n10,-60,130\n10,-20,160\n", "heater.csv", kDisc);
  EXPECT_NEAR(map({0.01, -0.02}).mould_side_K - 273.15, 160.0, 0.2);  // the middle is a point of the grid
  double low_K = 1e9, high_K = 0.0;
  for (const double K : map.at_K) low_K = std::min(low_K, K), high_K = std::max(high_K, K);
  EXPECT_GE(low_K, 403.15 - 1e-9);
  EXPECT_LE(high_K, 433.15 + 1e-9);
  const sheet::TemperatureMap one = read_table("x_mm,y_mm,temperature_C\n1,2,150\n", "heater.csv", kDisc);
  for (const double K : one.at_K) EXPECT_NEAR(K, 423.15, 1e-9);
}

TEST(HeaterTable, WhatIsNoTableIsRefusedWithItsLine) {
  struct Bad {
    const char *text, *says;
  };
  int refused = 0;
  for (const Bad& bad : {Bad{"", "empty"}, Bad{"x,y,t\n", "heater.csv:1"}, Bad{"x_mm,y_mm,temperature_C\n", "no point"},
                         Bad{"x_mm,y_mm,temperature_C\n1,2\n", "heater.csv:2"},
                         Bad{"x_mm,y_mm,temperature_C\n1,2,150\n1,2,warm\n", "heater.csv:3"},
                         Bad{"x_mm,y_mm,temperature_C\n1,2,1500\n", "0 to 400"}}) {
    try {
      read_table(bad.text, "heater.csv", kDisc);
      ADD_FAILURE() << bad.text;
    } catch (const Error& error) {
      EXPECT_NE(std::string(error.what()).find(bad.says), std::string::npos) << error.what();
      ++refused;
    }
  }
  EXPECT_EQ(refused, 6);
}

}  // namespace
}  // namespace pellicle::heater
