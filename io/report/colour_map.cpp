// Which colour stands for which value? Dark blue is little, light yellow is much; one more map
// for differences.
#include "io/report/colour_map.h"

#include "mesh/check.h"

#include <algorithm>
#include <cmath>

namespace pellicle::report {
namespace {

using Three = std::array<double, 3>;

// Ends of the path, L a b of OKLab: as far apart as sRGB allows on both sides, and apart from black and white pages.
constexpr Three kLeast{0.33, 0.00, -0.14}, kMost{0.94, -0.03, 0.14};

// Of differences. Blue and orange are apart for every common form of colour blindness; the ends are as dark as sRGB
// allows for an orange of any strength.
constexpr Three kLess{0.42, -0.01, -0.14}, kSame{0.92, 0.00, 0.00}, kMore{0.42, 0.065, 0.085};

/// Linear sRGB of a colour in OKLab: cube roots of cone answers, mixed.
Three linear_of(const Three& lab) {
  const auto [L, a, b] = lab;
  const double l = std::pow(L + 0.3963377774 * a + 0.2158037573 * b, 3);
  const double m = std::pow(L - 0.1055613458 * a - 0.0638541728 * b, 3);
  const double s = std::pow(L - 0.0894841775 * a - 1.2914855480 * b, 3);
  return {4.0767416621 * l - 3.3077115913 * m + 0.2309699292 * s,
          -1.2684380046 * l + 2.6097574011 * m - 0.3413193965 * s,
          -0.0041960863 * l - 0.7034186147 * m + 1.7076147010 * s};
}

/// IEC 61966-2-1.
std::uint8_t stored(double linear) {
  ensure(linear >= 0.0 && linear <= 1.0, "the colour map stays inside sRGB");
  const double share = linear <= 0.0031308 ? 12.92 * linear : 1.055 * std::pow(linear, 1.0 / 2.4) - 0.055;
  return static_cast<std::uint8_t>(std::lround(255.0 * share));
}

/// A share t of the way from one colour to another.
Rgb between(const Three& from, const Three& to, double t) {
  Three lab{};
  for (std::size_t k = 0; k < 3; ++k) lab[k] = from[k] + t * (to[k] - from[k]);
  const Three rgb = linear_of(lab);
  return {stored(rgb[0]), stored(rgb[1]), stored(rgb[2])};
}

template <class Colour>
std::array<Rgb, kColours> made(const Colour& colour) {
  std::array<Rgb, kColours> map{};
  for (std::size_t i = 0; i < map.size(); ++i) map[i] = colour(static_cast<double>(i) / (kColours - 1));
  return map;
}

}  // namespace

const std::array<Rgb, kColours>& colour_map() {
  static const std::array<Rgb, kColours> map = made([](double t) { return between(kLeast, kMost, t); });
  return map;
}

const std::array<Rgb, kColours>& difference_map() {
  static const std::array<Rgb, kColours> map =
      made([](double t) { return t < 0.5 ? between(kLess, kSame, 2.0 * t) : between(kSame, kMore, 2.0 * t - 1.0); });
  return map;
}

Rgb colour_of(double share, Colours colours) {
  ensure(!std::isnan(share), "a colour stands for a number");
  const auto& map = colours == Colours::kAmount ? colour_map() : difference_map();
  return map[static_cast<std::size_t>(std::lround((kColours - 1) * std::clamp(share, 0.0, 1.0)))];
}

}  // namespace pellicle::report
