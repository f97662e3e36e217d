// Can a value be read off its colour, by anyone and on a grey print? Measured in CIELAB, of which the map knows
// nothing.
#include "io/report/colour_map.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <vector>

namespace pellicle::report {
namespace {

using Three = std::array<double, 3>;

double linear(std::uint8_t stored) {  // IEC 61966-2-1
  const double v = stored / 255.0;
  return v <= 0.04045 ? v / 12.92 : std::pow((v + 0.055) / 1.055, 2.4);
}

Three linear(Rgb c) { return {linear(c.red), linear(c.green), linear(c.blue)}; }

/// CIE 1976 L*a*b* under D65, from linear sRGB (matrix of IEC 61966-2-1).
Three lab_of(const Three& rgb) {
  const auto [r, g, b] = rgb;
  const double x = 0.4124 * r + 0.3576 * g + 0.1805 * b, y = 0.2126 * r + 0.7152 * g + 0.0722 * b,
               z = 0.0193 * r + 0.1192 * g + 0.9505 * b;
  const auto f = [](double t) { return t > 216.0 / 24389.0 ? std::cbrt(t) : (24389.0 / 27.0 * t + 16.0) / 116.0; };
  const double fx = f(x / 0.9505), fy = f(y), fz = f(z / 1.0890);
  return {116.0 * fy - 16.0, 500.0 * (fx - fy), 200.0 * (fy - fz)};
}

double distance(const Three& a, const Three& b) { return std::hypot(a[0] - b[0], a[1] - b[1], a[2] - b[2]); }

/// How a dichromat sees it: linear RGB by the full-severity matrices of Machado, Oliveira and Fernandes, IEEE
/// Transactions on Visualization and Computer Graphics 15 (2009), table 1 (from memory).
using Matrix = std::array<Three, 3>;
constexpr std::array<Matrix, 3> kDichromats{{
    {{{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}}},
    {{{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}}},
    {{{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602}, {0.004733, 0.691367, 0.303900}}},
}};

Three seen_by(const Matrix& eye, const Three& rgb) {
  Three out{};
  for (std::size_t k = 0; k < 3; ++k)
    out[k] = std::clamp(eye[k][0] * rgb[0] + eye[k][1] * rgb[1] + eye[k][2] * rgb[2], 0.0, 1.0);
  return out;
}

TEST(ColourMap, LightnessRisesAllTheWay) {
  std::vector<double> lightness;
  for (const Rgb& c : colour_map()) lightness.push_back(lab_of(linear(c))[0]);
  for (std::size_t i = 2; i < lightness.size(); ++i) {
    EXPECT_GE(lightness[i], lightness[i - 1]) << "8 bits make a few neighbours the same";
    EXPECT_GT(lightness[i], lightness[i - 2]);
  }
  EXPECT_GT(lightness.back() - lightness.front(), 65.0) << "two thirds of the way from black to white are used";
}

TEST(ColourMap, EqualStepsOfTheValueLookEquallyFarApart) {
  // Sixteen steps, each 17 colours: rounding to 8 bits (0.3 in CIELAB) is then below a tenth of a step. CIELAB and
  // OKLab disagree about blue, so CIELAB's own steps are only asked to be within a third of their mean; a map whose red
  // rises first and whose green follows, as naive ones do, is off by more than a factor of two.
  std::vector<double> steps;
  double sum = 0.0;
  for (std::size_t i = 0; i + 17 < colour_map().size(); i += 17) {
    steps.push_back(distance(lab_of(linear(colour_map()[i])), lab_of(linear(colour_map()[i + 17]))));
    sum += steps.back();
  }
  ASSERT_EQ(steps.size(), 15U);
  for (const double step : steps) EXPECT_NEAR(step, sum / 15.0, 0.2 * sum / 15.0);
}

TEST(ColourMap, StaysInOrderAndApartForColourBlindEyes) {
  for (const Matrix& eye : kDichromats) {
    double before = -1.0;
    for (std::size_t i = 0; i < colour_map().size(); i += 15) {
      const double lightness = lab_of(seen_by(eye, linear(colour_map()[i])))[0];
      EXPECT_GT(lightness, before + 2.0) << "a just noticeable difference is about 1, over 15 colours";
      before = lightness;
    }
  }
}

TEST(ColourMap, OfDifferencesIsLightestInTheMiddleAndApartOnBothSides) {
  const auto& map = difference_map();
  const auto lightness = [&](std::size_t i) { return lab_of(linear(map[i]))[0]; };
  for (std::size_t i = 2; i < 128; ++i) {
    EXPECT_GT(lightness(i), lightness(i - 2));
    EXPECT_GT(lightness(255 - i), lightness(255 - i + 2));
    // Equally far from zero is about equally dark: CIELAB and OKLab differ in blue by some units.
    EXPECT_NEAR(lightness(i), lightness(255 - i), 5.0);
  }
  const Three middle = lab_of(linear(map[127]));
  EXPECT_LT(std::hypot(middle[1], middle[2]), 2.0) << "grey stands for no difference";
  // A tenth of the range to either side is told apart by every eye: just noticeable is about 2.3 in CIELAB.
  for (const Matrix& eye : kDichromats)
    for (std::size_t i = 0; i <= 114; i += 19)
      EXPECT_GT(distance(lab_of(seen_by(eye, linear(map[i]))), lab_of(seen_by(eye, linear(map[255 - i])))), 4.0) << i;
}

TEST(ColourMap, EndsStandForAllBeyondThem) {
  const auto same = [](Rgb a, Rgb b) { return a.red == b.red && a.green == b.green && a.blue == b.blue; };
  EXPECT_TRUE(same(colour_of(-3.0), colour_map().front()));
  EXPECT_TRUE(same(colour_of(0.0), colour_map().front()));
  EXPECT_TRUE(same(colour_of(1.0), colour_map().back()));
  EXPECT_TRUE(same(colour_of(7.0), colour_map().back()));
  EXPECT_FALSE(same(colour_map().front(), colour_map().back()));
  EXPECT_THROW(colour_of(std::numeric_limits<double>::quiet_NaN()), std::logic_error);
}

}  // namespace
}  // namespace pellicle::report
