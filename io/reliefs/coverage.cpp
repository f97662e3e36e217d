// How much of each cell does a shape cover? Signed areas, summed along rows.
#include "io/reliefs/coverage.h"

#include "mesh/check.h"

#include <algorithm>
#include <cmath>

namespace pellicle::reliefs {

Coverage::Coverage(int nx, int ny)
    : nx_(nx), ny_(ny), sums_(static_cast<std::size_t>(nx + 1) * static_cast<std::size_t>(ny), 0.0) {}

/// Part of an edge inside one row; cut where it passes from column to column. `dy` is its signed height.
void Coverage::add_in_row(int row, double x0, double x1, double dy) {
  double* cells = sums_.data() + static_cast<std::size_t>(row) * static_cast<std::size_t>(nx_ + 1);
  const auto add = [&](double a, double b, double height) {
    const int column = std::clamp(static_cast<int>(std::floor(0.5 * (a + b))), 0, nx_ - 1);
    const double right = column + 1 - 0.5 * (a + b);  // mean width between the edge and the cell's right side
    cells[column] += height * right;
    cells[column + 1] += height * (1.0 - right);
  };
  const double low = std::min(x0, x1), high = std::max(x0, x1);
  double at = low;
  for (double border = std::floor(low) + 1.0; border < high; border += 1.0) {
    add(at, border, dy * (border - at) / (high - low));
    at = border;
  }
  add(at, high, high > low ? dy * (high - at) / (high - low) : dy);
}

void Coverage::add_edge(const mesh::Vec2& from, const mesh::Vec2& to) {
  const bool inside = from.minCoeff() >= 0.0 && to.minCoeff() >= 0.0 && std::max(from.x(), to.x()) <= nx_ &&
                      std::max(from.y(), to.y()) <= ny_;
  ensure(inside, "a shape lies inside its window");
  if (from.y() == to.y()) return;
  const bool falls = to.y() < from.y();
  const mesh::Vec2 &below = falls ? to : from, &above = falls ? from : to;
  const double run = (above.x() - below.x()) / (above.y() - below.y());
  const double sign = falls ? 1.0 : -1.0;  // a counter-clockwise shape lies right of its falling edges
  double y = below.y(), x = below.x();
  for (int row = static_cast<int>(std::floor(y)); row < ny_ && y < above.y(); ++row) {
    const double y_next = std::min(row + 1.0, above.y());
    const double x_next = y_next == above.y() ? above.x() : below.x() + run * (y_next - below.y());
    add_in_row(row, x, x_next, sign * (y_next - y));
    y = y_next;
    x = x_next;
  }
}

std::vector<double> Coverage::shares() const {
  std::vector<double> out;
  out.reserve(static_cast<std::size_t>(nx_) * static_cast<std::size_t>(ny_));
  for (int j = 0; j < ny_; ++j) {
    double sum = 0.0;
    for (int i = 0; i < nx_; ++i) {
      sum += sums_[static_cast<std::size_t>(j) * static_cast<std::size_t>(nx_ + 1) + static_cast<std::size_t>(i)];
      out.push_back(std::clamp(sum, 0.0, 1.0));
    }
  }
  return out;
}

}  // namespace pellicle::reliefs
