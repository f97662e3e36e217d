// What do tests of the results write, when there is no solver? A small dome with a value for every field.
#pragma once

#include "solver/forming/frame.h"

#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <limits>
#include <sstream>
#include <string>
#include <vector>

namespace pellicle::results {

/// A folder of its own for one test, gone afterwards.
class Scratch : public testing::Test {
 protected:
  void SetUp() override {
    const auto* test = testing::UnitTest::GetInstance()->current_test_info();
    std::string pattern = (std::filesystem::temp_directory_path() / "pellicle-XXXXXX").string();
    ASSERT_NE(::mkdtemp(pattern.data()), nullptr) << test->name();
    root_ = pattern;
  }
  void TearDown() override { std::filesystem::remove_all(root_); }

  static std::string text_of(const std::filesystem::path& file) {
    std::ostringstream text;
    text << std::ifstream(file, std::ios::binary).rdbuf();
    return text.str();
  }
  static void put(const std::filesystem::path& file, const std::string& text) { std::ofstream(file) << text; }

  std::filesystem::path root_;
};

/// One owner of the arrays a Frame looks into.
struct MadeUp {
  std::vector<mesh::Vec3> points_m;
  std::vector<mesh::Triangle> triangles;
  std::vector<mesh::Vec2> flat_m;
  std::vector<double> per_node, gap_m, touched_s, temperature_K, radius_m, per_triangle, wrinkle;

  /// n x n squares of 1 mm, pushed down to a bowl; corner values are distinct.
  explicit MadeUp(int n, double depth_m) {
    const auto at = [&](int i, int j) { return j * (n + 1) + i; };
    for (int j = 0; j <= n; ++j) {
      for (int i = 0; i <= n; ++i) {
        const double x = 1e-3 * i, y = 1e-3 * j, half = 0.5e-3 * n;
        const double r_sq = ((x - half) * (x - half) + (y - half) * (y - half)) / (half * half);
        flat_m.emplace_back(x, y);
        points_m.emplace_back(x, y, -depth_m * (1.0 - 0.5 * r_sq));
        per_node.push_back(0.5e-3 + 1e-6 * at(i, j));
        gap_m.push_back(1e-3 * j - 1e-6);
        touched_s.push_back(j < n ? std::numeric_limits<double>::quiet_NaN() : 0.25);
        temperature_K.push_back(413.15);
        radius_m.push_back(j < n ? std::numeric_limits<double>::quiet_NaN() : 0.4e-3);
        if (i < n && j < n) {
          triangles.push_back({at(i, j), at(i + 1, j), at(i + 1, j + 1)});
          triangles.push_back({at(i, j), at(i + 1, j + 1), at(i, j + 1)});
        }
      }
    }
    for (std::size_t t = 0; t < triangles.size(); ++t) {
      per_triangle.push_back(0.5e-3 + 1e-6 * static_cast<double>(t));
      wrinkle.push_back(t % 2 == 0 ? 0.0 : 0.1);
    }
  }

  forming::Frame frame(int index, double time_s) const {
    return {index,     time_s,       index == 0 ? "" : "press",
            4e5,       1.5e-6,       points_m,
            triangles, flat_m,       per_node,
            per_node,  per_node,     gap_m,
            per_node,  touched_s,    temperature_K,
            radius_m,  radius_m,     radius_m,
            radius_m,  per_triangle, wrinkle};
  }
};

}  // namespace pellicle::results
