// Does a sum have the same bits for any number of threads, and the right value?
#include "solver/sheet/ordered_sum.h"

#include "tests/solver/sheet/sheet_samples.h"
#include "tests/solver/threads.h"

#include <gtest/gtest.h>

#include <cmath>
#include <cstring>
#include <vector>

namespace pellicle::sheet {
namespace {

/// Numbers of both signs over eight orders of size: any other order of adding shows in the last bits.
std::vector<double> numbers(int n) {
  Dice dice(5);
  std::vector<double> v;
  for (int i = 0; i < n; ++i) {
    const double size = std::pow(10.0, dice.in(-4.0, 4.0));
    v.push_back(size * dice.in(-1.0, 1.0));
  }
  return v;
}

// Around one block of 512, some blocks, and many with a rest.
const std::vector<int> kCounts{1, 2, 511, 512, 513, 1024, 5000, 100003};

TEST(OrderedSum, HasTheSameBitsForAnyNumberOfThreads) {
  int checked = 0;
  for (const int n : kCounts) {
    const std::vector<double> v = numbers(n);
    const auto number = [&](int i) { return v[static_cast<std::size_t>(i)]; };
    std::vector<double> sums;
    for (const int threads : {1, 2, 3}) {
      const Threads use(threads);
      OrderedSum<double> sum;
      sums.push_back(sum(n, number));
      sums.push_back(sum(n, number));  // again with the partial sums of before
    }
    for (const double s : sums) {
      EXPECT_EQ(std::memcmp(&s, &sums[0], sizeof s), 0) << n << " numbers";
      ++checked;
    }
  }
  EXPECT_EQ(checked, 8 * 6);
}

TEST(OrderedSum, IsTheSumInLongDouble) {
  int checked = 0;
  for (const int n : kCounts) {
    const std::vector<double> v = numbers(n);
    long double exact = 0.0L, size = 0.0L;
    for (const double x : v) exact += static_cast<long double>(x), size += std::fabs(static_cast<long double>(x));
    OrderedSum<double> sum;
    const double got = sum(n, [&](int i) { return v[static_cast<std::size_t>(i)]; });
    // Each addition rounds by at most 1.1e-16 of a partial sum; a number takes part in at most 512 in its block and one
    // a block after it. Higham, Accuracy and Stability of Numerical Algorithms, 2002, section 4.2 (from memory).
    const double allowed = 1.2e-16 * (512.0 + n / 512.0) * static_cast<double>(size);
    EXPECT_NEAR(got, static_cast<double>(exact), allowed) << n << " numbers";
    ++checked;
  }
  EXPECT_EQ(checked, 8);
}

TEST(OrderedSum, OfNothingIsZeroAlsoAfterALongerOne) {
  OrderedSum<double> sum;
  EXPECT_EQ(sum(2000, [](int) { return 1.0; }), 2000.0);
  EXPECT_EQ(sum(0, [](int) { return 1.0; }), 0.0);
  EXPECT_EQ(sum(3, [](int i) { return static_cast<double>(i); }), 3.0);
}

struct Pair {
  double count = 0.0, squares = 0.0;
  Pair& operator+=(const Pair& o) {
    count += o.count;
    squares += o.squares;
    return *this;
  }
};

TEST(OrderedSum, AddsAnythingWithAZeroAndAPlus) {
  OrderedSum<Pair> sum;
  const Pair p = sum(1000, [](int i) { return Pair{1.0, static_cast<double>(i) * i}; });
  EXPECT_EQ(p.count, 1000.0);
  EXPECT_EQ(p.squares, 332833500.0);  // (n-1) n (2n-1)/6: whole numbers, exact
}

// The membrane itself: energy, volume and forces in the same bits.
TEST(OrderedSum, EnergyVolumeAndForcesHaveTheSameBitsForAnyNumberOfThreads) {
  SheetState s = square_sheet(24, 0.3);
  Dice dice(9);
  place(s, [](const Vec2& p) { return Vec3{1.6 * p.x(), (0.8 + 40.0 * p.x()) * p.y(), 0.0}; });
  for (Vec3& x : s.x_m) x += dice.cube(1e-4);
  ASSERT_GT(s.elements(), 2 * 512);  // more than two blocks
  int checked = 0;
  for (const NamedLaw& n : laws()) {
    std::vector<double> energy_J, volume_m3, frequency_per_s;
    std::vector<std::vector<Vec3>> force_N;
    for (const int threads : {1, 2, 3}) {
      const Threads use(threads);
      membrane_forces(n.law, s);
      force_N.push_back(s.force_N);
      energy_J.push_back(strain_energy_J(n.law, s));
      volume_m3.push_back(swept_volume_m3(s, 0.0));
      frequency_per_s.push_back(2.0 / highest_frequency(n.law, s, kDensity_kg_m3, 1e3).stable_step_s());
    }
    for (std::size_t k = 1; k < 3; ++k) {
      EXPECT_EQ(energy_J[k], energy_J[0]) << n.name;
      EXPECT_EQ(volume_m3[k], volume_m3[0]) << n.name;
      EXPECT_EQ(frequency_per_s[k], frequency_per_s[0]) << n.name;
      EXPECT_EQ(std::memcmp(force_N[k].data(), force_N[0].data(), force_N[0].size() * sizeof(Vec3)), 0) << n.name;
      ++checked;
    }
  }
  EXPECT_EQ(checked, 4 * 2);
}

}  // namespace
}  // namespace pellicle::sheet
