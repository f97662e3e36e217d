// Where do the numbers on a picture stand so that none covers another?
#pragma once

#include <span>
#include <vector>

namespace pellicle::report {

/// The words of one mark. They stand above and to the right of their place, or, near the right edge, to its left.
struct Label {
  double x_px, y_px;           ///< the place, y downwards
  double width_px, height_px;  ///< of the words
  bool is_left = false;
};

/// Where words stand beside their place, as page.css says [px].
inline constexpr double kLabelBeside_px = 8.0, kLabelAbove_px = 6.0;

/// The box of a label moved down by so much.
struct LabelBox {
  double left_px, right_px, top_px, bottom_px;
};
LabelBox box_of(const Label& label, double down_px);

/// How far each label is to go down, negative: up, so that no two boxes meet and none leaves a picture this high, as
/// long as there is room. In the order of their places from above, each to the nearest free height below where it wants
/// to stand; what then reaches below the picture goes back up. What holds at one width of the page holds at every
/// larger one: places only move apart then, and two labels one of which is above the other have their places in that
/// order.
std::vector<double> labels_apart(std::span<const Label> labels, double height_px);

}  // namespace pellicle::report
