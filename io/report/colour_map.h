// Which colour stands for which value? Dark blue is little, light yellow is much; one more map
// for differences.
//
// A straight path in OKLab, taken in equal steps: equal steps of the value look equally far apart, lightness rises all
// the way, so a grey print keeps the order. The path runs along blue to yellow, which every common form of colour
// blindness leaves apart. OKLab and its numbers: B. Ottosson, "A perceptual color space for image processing", 2020
// (from memory; the tests hold the map against CIELAB, which shares no number with it).
#pragma once

#include <array>
#include <cstdint>
#include <string>

namespace pellicle::report {

struct Rgb {
  std::uint8_t red, green, blue;
};

constexpr int kColours = 256;

/// The map, from least to most; sRGB.
const std::array<Rgb, kColours>& colour_map();

/// For differences: dark blue is less, light grey the same, dark orange more. Two straight paths in OKLab that meet in
/// the middle, the lightest; both ends are equally dark, so a grey print keeps the size and not the sign.
const std::array<Rgb, kColours>& difference_map();

/// Which of the two maps.
enum class Colours : std::uint8_t { kAmount, kDifference };

/// Colour of a share of the range; below 0 and above 1 as at the ends. NaN is no share.
Rgb colour_of(double share, Colours colours = Colours::kAmount);

}  // namespace pellicle::report
