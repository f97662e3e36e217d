// Which steps does a printed surface have, and how much of them does the pressed sheet show on either face?
#include "solver/imprint/layer_lines.h"

#include "mesh/check.h"
#include "solver/imprint/compliance.h"
#include "solver/imprint/press.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <string>
#include <vector>

namespace pellicle::imprint {
namespace {

using std::numbers::pi;

constexpr int kPoints = 128;       // of a period, in the table
constexpr std::size_t kWaves = 8;  // kept of the face on the mould, for the free face

/// Valley of the tabulated sawtooths, in points from the crest: even flanks to one that is upright. The other half of
/// all shapes is their mirror image.
constexpr std::array<int, 8> kValleys{64, 80, 96, 108, 116, 121, 125, 127};
/// k h of the unstretched layers in the table: their C(k)/C(2 k) runs from near 16, a plate, to 2, a half-space.
constexpr std::array kThickness{0.3, 0.5, 0.75, 1.0, 1.3, 1.7, 2.3, 3.2, 9.0};
constexpr std::size_t kLoads = 41;  // p C(k)/height from 0.01 to 100, ten a decade
constexpr double kLeastLoad = 0.01, kLoadsPerDecade = 10.0;

/// Heights of a sawtooth with its crest, 0, at the first point and its valley, -height, at a point or between two.
std::vector<double> sawtooth(double valley, double height_m, int points) {
  std::vector<double> z_m(static_cast<std::size_t>(points));
  for (int i = 0; i < points; ++i)
    z_m[static_cast<std::size_t>(i)] = -height_m * std::min(i / valley, (points - i) / (points - valley));
  return z_m;
}

double wave_number_1_m(const Stair& s) { return 2.0 * pi / s.period_m; }

/// The sheet in layers; stretch_x up the slope.
LayerStack stack_of(const PressedSheet& s) {
  LayerStack stack;
  // Compressed up the slope, r = along^2 across < 1, it would fold until it is not.
  stack.stretch_x = std::max(s.stretch_along, 1.0 / std::sqrt(s.stretch_across));
  stack.stretch_y = s.stretch_across;
  const double skin_m = std::clamp(s.skin.thickness_m, 0.0, s.thickness_m), core_m = s.thickness_m - skin_m;
  // A skin sets after the sheet has been stretched and is at rest as it lies; stretched with it, it would be up to ten
  // times too stiff. The little that the core's own stretch holds back is left out with it: lines come out too high.
  if (skin_m > 0.0 && s.skin.shear_modulus_Pa > s.shear_modulus_Pa) stack.stretch_x = stack.stretch_y = 1.0;
  if (skin_m > 0.0) stack.layers.push_back({skin_m, s.skin.shear_modulus_Pa});
  if (core_m > 0.0 || !(skin_m > 0.0)) stack.layers.push_back({core_m, s.shear_modulus_Pa});
  return stack;
}

/// The face on the mould: amount it goes down below the crest, and its waves a_n cos + b_n sin, all over the height.
struct Shape {
  double share = 0.0;
  std::array<double, kWaves> cosine{}, sine{};

  void add(double weight, const Shape& other) {
    share += weight * other.share;
    for (std::size_t n = 0; n < kWaves; ++n) {
      cosine[n] += weight * other.cosine[n];
      sine[n] += weight * other.sine[n];
    }
  }
};

double range_of(const std::vector<double>& values) {
  const auto [low, high] = std::minmax_element(values.begin(), values.end());
  return *high - *low;
}

/// cos and sin of 2 pi i/kPoints.
const std::array<std::array<double, 2>, kPoints>& circle() {
  static const auto table = [] {
    std::array<std::array<double, 2>, kPoints> all{};
    for (std::size_t i = 0; i < kPoints; ++i) {
      const double angle = 2.0 * pi * static_cast<double>(i) / kPoints;
      all[i] = {std::cos(angle), std::sin(angle)};
    }
    return all;
  }();
  return table;
}

Shape shape_of(const std::vector<double>& face_m) {
  Shape shape{.share = range_of(face_m)};
  for (std::size_t n = 0; n < kWaves; ++n) {
    for (std::size_t i = 0; i < kPoints; ++i) {
      const auto& [c, s] = circle()[i * (n + 1) % kPoints];
      shape.cosine[n] += 2.0 / kPoints * c * face_m[i];
      shape.sine[n] += 2.0 / kPoints * s * face_m[i];
    }
  }
  return shape;
}

/// Where x lies among rising places: the lower neighbour and the share of the way to the upper one.
struct Between {
  std::size_t low;
  double part;
};
template <class Places>
Between between(const Places& places, double x) {
  const auto above = std::upper_bound(places.begin() + 1, places.end() - 1, x) - places.begin();
  const auto low = static_cast<std::size_t>(above - 1);
  return {low, std::clamp((x - places[low]) / (places[low + 1] - places[low]), 0.0, 1.0)};
}

class StairTable {
 public:
  StairTable() {
    for (std::size_t j = 0; j < kThickness.size(); ++j) {
      const LayerStack layer{{{1.0, 1.0}}};
      const double k = kThickness[j], compliance = compliance_m_per_Pa(layer, k, 0.0);
      // Rising with k h, as places have to.
      softness_[j] = -std::log2(compliance / compliance_m_per_Pa(layer, 2.0 * k, 0.0));
      Press press({kPoints, 1, 2.0 * pi / (k * kPoints)}, layer, Boundary::kPeriodic);
      for (std::size_t i = 0; i < kValleys.size(); ++i) {
        const std::vector<double> mould = sawtooth(kValleys[i], 1.0, kPoints);
        Pressed pressed;
        for (std::size_t l = 0; l < kLoads; ++l) {
          const double load = kLeastLoad * std::pow(10.0, static_cast<double>(l) / kLoadsPerDecade);
          pressed =
              press.solve(mould, load / compliance, {1e-4, 5000}, l > 0 ? &pressed.outer_displacement_m : nullptr);
          shapes_[i][j][l] = shape_of(pressed.displacement_m);
          ensure(std::isfinite(shapes_[i][j][l].share), "a tabulated share is a number");
        }
      }
    }
    for (std::size_t i = 0; i < kValleys.size(); ++i) flat_share_[i] = kValleys[i] / static_cast<double>(kPoints);
  }

  /// Linear in all three. use(weight, shape) for each of the eight neighbours.
  template <class Use>
  void neighbours(double flat_share, double compliance_ratio, double load, Use use) const {
    const Between s = between(flat_share_, std::max(flat_share, 1.0 - flat_share));
    const Between k = between(softness_, -std::log2(compliance_ratio));
    const double place = std::clamp(kLoadsPerDecade * std::log10(std::max(load, kLeastLoad) / kLeastLoad), 0.0,
                                    static_cast<double>(kLoads - 1));
    const auto first = std::min(static_cast<std::size_t>(place), kLoads - 2);
    const double part = place - static_cast<double>(first);
    const double below = std::min(1.0, load / kLeastLoad);  // so little that depth goes with the load
    for (std::size_t i = 0; i < 2; ++i)
      for (std::size_t j = 0; j < 2; ++j)
        for (std::size_t l = 0; l < 2; ++l) {
          const double weight = (i ? s.part : 1.0 - s.part) * (j ? k.part : 1.0 - k.part) * (l ? part : 1.0 - part);
          use(below * weight, shapes_[s.low + i][k.low + j][first + l]);
        }
  }

 private:
  std::array<double, kValleys.size()> flat_share_{};
  std::array<double, kThickness.size()> softness_{};
  std::array<std::array<std::array<Shape, kLoads>, kThickness.size()>, kValleys.size()> shapes_{};
};

template <class Use>
void look_up(const Stair& stair, const LayerStack& stack, double pressure_Pa, Use use) {
  static const StairTable table;
  const double k = wave_number_1_m(stair);
  const double compliance = compliance_m_per_Pa(stack, k, 0.0);
  const double ratio = compliance / compliance_m_per_Pa(stack, 2.0 * k, 0.0);
  table.neighbours(stair.flat_share, ratio, pressure_Pa * compliance / stair.height_m, use);
}

}  // namespace

std::optional<Stair> stair(double layer_height_m, double cos_angle) {
  if (!(layer_height_m > 0.0 && std::isfinite(layer_height_m)))
    throw Error({Fault::Kind::kCase, "layer height of the print in m", std::to_string(layer_height_m), "above 0", ""});
  const double cosine = std::min(1.0, std::fabs(cos_angle)), sine = std::sqrt((1.0 - cosine) * (1.0 + cosine));
  if (sine < std::sin(kFlattest_rad) || !(cosine > 0.0)) return std::nullopt;
  return Stair{layer_height_m / sine, layer_height_m * cosine, cosine * cosine};
}

double mould_face_line_m(const Stair& stair, const PressedSheet& sheet) {
  const LayerStack stack = stack_of(sheet);
  check(stack);
  if (!(sheet.pressure_Pa > 0.0)) return 0.0;
  double share = 0.0;
  look_up(stair, stack, sheet.pressure_Pa, [&](double weight, const Shape& shape) { share += weight * shape.share; });
  return share * stair.height_m;
}

LayerLines layer_lines(const Stair& stair, const PressedSheet& sheet) {
  const LayerStack stack = stack_of(sheet);
  check(stack);
  if (!(sheet.pressure_Pa > 0.0)) return {};
  Shape mould_face;
  look_up(stair, stack, sheet.pressure_Pa, [&](double weight, const Shape& shape) { mould_face.add(weight, shape); });
  constexpr double kUnseen = 1e-5;  // share of a wave; less of it counts as nothing
  std::vector<double> free_face(kPoints, 0.0);
  for (std::size_t n = 0; n < kWaves; ++n) {
    const double through = free_face_share(stack, static_cast<double>(n + 1) * wave_number_1_m(stair), 0.0);
    if (through < kUnseen) break;
    for (std::size_t i = 0; i < kPoints; ++i) {
      const auto& [c, s] = circle()[i * (n + 1) % kPoints];
      free_face[i] += through * (mould_face.cosine[n] * c + mould_face.sine[n] * s);
    }
  }
  return {mould_face.share * stair.height_m, std::min(mould_face.share, range_of(free_face)) * stair.height_m};
}

LayerLines pressed_layer_lines(const Stair& stair, const PressedSheet& sheet, int points) {
  const LayerStack stack = stack_of(sheet);
  if (!(sheet.pressure_Pa > 0.0)) return {};
  // The valley on a point, so that the sampled sawtooth has its whole height.
  const double valley = std::clamp(std::round(stair.flat_share * points), 1.0, points - 1.0);
  Press press({points, 1, stair.period_m / points}, stack, Boundary::kPeriodic);
  const std::vector<double> face_m =
      press.solve(sawtooth(valley, stair.height_m, points), sheet.pressure_Pa, {1e-4 * stair.height_m, 20000})
          .displacement_m;
  std::vector<double> free_face_m(face_m.size(), 0.0);
  const double step = 2.0 * pi / points;
  for (int n = 1; n < points / 2; ++n) {
    const double through = free_face_share(stack, n * wave_number_1_m(stair), 0.0);
    if (through < 1e-12) break;
    double cosine = 0.0, sine = 0.0;
    for (int i = 0; i < points; ++i) {
      cosine += 2.0 / points * std::cos(step * n * i) * face_m[static_cast<std::size_t>(i)];
      sine += 2.0 / points * std::sin(step * n * i) * face_m[static_cast<std::size_t>(i)];
    }
    for (int i = 0; i < points; ++i)
      free_face_m[static_cast<std::size_t>(i)] +=
          through * (cosine * std::cos(step * n * i) + sine * std::sin(step * n * i));
  }
  return {range_of(face_m), range_of(free_face_m)};
}

}  // namespace pellicle::imprint
