// In which order are points visited so that neighbours in space are neighbours in memory? Along a Hilbert curve.
#include "mesh/order.h"

#include <algorithm>
#include <numeric>
#include <utility>

namespace pellicle::mesh {

std::uint64_t hilbert_key(std::uint32_t x, std::uint32_t y, std::uint32_t cells) {
  std::uint64_t key = 0;
  for (std::uint32_t half = cells / 2; half > 0; half /= 2) {
    const std::uint32_t right = (x & half) != 0 ? 1U : 0U;
    const std::uint32_t upper = (y & half) != 0 ? 1U : 0U;
    key += std::uint64_t{half} * half * ((3U * right) ^ upper);  // quadrants in the order 00, 01, 11, 10
    if (upper == 0) {  // turn the quadrant so that its curve starts where the one before ended
      if (right == 1) {
        x = cells - 1 - x;
        y = cells - 1 - y;
      }
      std::swap(x, y);
    }
  }
  return key;
}

std::vector<int> hilbert_order(std::span<const Vec2> points_m) {
  std::vector<int> order(points_m.size());
  std::iota(order.begin(), order.end(), 0);
  if (points_m.empty()) return order;

  Vec2 low_m = points_m[0];
  Vec2 high_m = points_m[0];
  for (const Vec2& p_m : points_m) {
    low_m = low_m.cwiseMin(p_m);
    high_m = high_m.cwiseMax(p_m);
  }
  const double side_m = (high_m - low_m).maxCoeff();
  const double cells_per_m = side_m > 0.0 ? static_cast<double>(kHilbertCells - 1) / side_m : 0.0;

  std::vector<std::uint64_t> keys(points_m.size());
  for (std::size_t i = 0; i < points_m.size(); ++i) {
    const Vec2 cell = (points_m[i] - low_m) * cells_per_m;
    // The product may round up by one: stay in the square.
    const auto x = std::min(static_cast<std::uint32_t>(cell.x()), kHilbertCells - 1);
    const auto y = std::min(static_cast<std::uint32_t>(cell.y()), kHilbertCells - 1);
    keys[i] = hilbert_key(x, y);
  }
  std::sort(order.begin(), order.end(), [&keys](int a, int b) {
    const std::uint64_t key_a = keys[static_cast<std::size_t>(a)];
    const std::uint64_t key_b = keys[static_cast<std::size_t>(b)];
    return key_a != key_b ? key_a < key_b : a < b;
  });
  return order;
}

std::vector<int> renumber(std::vector<Vec2>& points_m, std::vector<Triangle>& triangles) {
  std::vector<int> old_of_new = hilbert_order(points_m);
  std::vector<int> new_of_old(points_m.size());
  std::vector<Vec2> sorted_m(points_m.size());
  for (std::size_t i = 0; i < old_of_new.size(); ++i) {
    const auto old = static_cast<std::size_t>(old_of_new[i]);
    new_of_old[old] = static_cast<int>(i);
    sorted_m[i] = points_m[old];
  }
  points_m = std::move(sorted_m);
  for (Triangle& t : triangles) {
    for (int& node : t) node = new_of_old[static_cast<std::size_t>(node)];
    std::rotate(t.begin(), std::min_element(t.begin(), t.end()), t.end());
  }
  std::sort(triangles.begin(), triangles.end());
  return old_of_new;
}

}  // namespace pellicle::mesh
