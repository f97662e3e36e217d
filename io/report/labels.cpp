// Where do the numbers on a picture stand so that none covers another?
#include "io/report/labels.h"

#include <algorithm>
#include <cstddef>
#include <numeric>

namespace pellicle::report {
namespace {

constexpr double kGap_px = 2.0;  ///< left between two

/// Beside each other, in the order of their places: then they stay so on a wider page.
bool are_beside(const Label& a, const Label& b) {
  const bool a_first = a.x_px < b.x_px;
  const LabelBox left = box_of(a_first ? a : b, 0.0), right = box_of(a_first ? b : a, 0.0);
  return left.right_px + kGap_px <= right.left_px;
}

}  // namespace

LabelBox box_of(const Label& label, double down_px) {
  const double bottom_px = label.y_px - kLabelAbove_px + down_px;
  const double left_px = label.is_left ? label.x_px - kLabelBeside_px - label.width_px : label.x_px + kLabelBeside_px;
  return {left_px, left_px + label.width_px, bottom_px - label.height_px, bottom_px};
}

std::vector<double> labels_apart(std::span<const Label> labels, double height_px) {
  std::vector<std::size_t> order(labels.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::stable_sort(order.begin(), order.end(),
                   [&](std::size_t a, std::size_t b) { return labels[a].y_px < labels[b].y_px; });
  std::vector<double> down_px(labels.size(), 0.0);
  for (std::size_t k = 0; k < order.size(); ++k) {
    const Label& own = labels[order[k]];
    double top_px = std::max(box_of(own, 0.0).top_px, 0.0);
    for (std::size_t before = 0; before < k; ++before) {
      const std::size_t other = order[before];
      if (!are_beside(own, labels[other]))
        top_px = std::max(top_px, box_of(labels[other], down_px[other]).bottom_px + kGap_px);
    }
    down_px[order[k]] = top_px - box_of(own, 0.0).top_px;
  }
  for (std::size_t k = order.size(); k-- > 0;) {
    const Label& own = labels[order[k]];
    double bottom_px = height_px;
    for (std::size_t after = k + 1; after < order.size(); ++after) {
      const std::size_t other = order[after];
      if (!are_beside(own, labels[other]))
        bottom_px = std::min(bottom_px, box_of(labels[other], down_px[other]).top_px - kGap_px);
    }
    down_px[order[k]] = std::min(down_px[order[k]], bottom_px - box_of(own, 0.0).bottom_px);
  }
  return down_px;
}

}  // namespace pellicle::report
