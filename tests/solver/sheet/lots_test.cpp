// Do eight nodes side by side move to the last bit as each alone, with every instruction set?
#include "solver/sheet/kernel/choose.h"
#include "solver/sheet/kernel/motion.h"
#include "solver/sheet/ordered_sum.h"
#include "tests/solver/sheet/sheet_samples.h"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <cstring>
#include <limits>

namespace pellicle::sheet {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }
constexpr int kNodes = 5 * kLot;
/// Of each lot: all nodes, some, one, all but one, none.
constexpr std::array<LotNodes, 5> kWanted{kWholeLot, 0x5AU, 0x10U, kWholeLot & ~0x8U, 0U};
LotNodes wanted_of(int first) { return kWanted.at(at(first / kLot)); }
bool is_wanted(int i) { return (wanted_of(i) >> (i % kLot) & 1U) != 0; }

/// Numbers of the size that a forming run has, each different.
struct Nodes {
  std::vector<Vec3> force_N, area_m2, x_m, v_m_s, predicted_m_s;
  std::vector<double> mass_kg, weight_N, back_Pa, pull_N, bears_m2, normal_z;
  std::vector<char> moved = std::vector<char>(kNodes, 2);

  Nodes() {
    Dice dice(11);
    for (int i = 0; i < kNodes; ++i) {
      force_N.push_back(dice.cube(1e-2)), area_m2.push_back(dice.cube(1e-6)), x_m.push_back(dice.cube(0.1));
      v_m_s.push_back(dice.cube(0.3)), predicted_m_s.push_back(dice.cube(0.3));
      mass_kg.push_back(dice.in(1e-6, 1e-4)), weight_N.push_back(dice.in(0.0, 1e-5));
      back_Pa.push_back(i % 3 == 0 ? 0.0 : dice.in(-1e4, 1e5));
      pull_N.push_back(dice.in(-0.2, 0.2)), bears_m2.push_back(dice.in(0.0, 1e-6)),
          normal_z.push_back(dice.in(0.0, 1.0));
    }
    // One lot stands still where it wants to, but for one node of it.
    for (int i = kLot; i < 2 * kLot; ++i) predicted_m_s[at(i)].setZero();
    predicted_m_s[kLot + 5] = {0.0, 1e-3, 0.0};
  }
  MovingNodes view() {
    return {.force_N = force_N.data()->data(),
            .area_m2 = area_m2.data()->data(),
            .mass_kg = mass_kg.data(),
            .weight_N = weight_N.data(),
            .back_Pa = back_Pa.data(),
            .pull_N = pull_N.data(),
            .bears_m2 = bears_m2.data(),
            .normal_z = normal_z.data(),
            .x_m = x_m.data()->data(),
            .v_m_s = v_m_s.data()->data(),
            .predicted_m_s = predicted_m_s.data()->data(),
            .moved = moved.data()};
  }
};

constexpr MotionStep kStep{.frame_m_s = -0.11,
                           .last_frame_m_s = -0.10,
                           .clamp_m_s = -0.12,
                           .clamp_z_m = 0.02,
                           .keep = 0.997,
                           .push_s = 1.1e-5,
                           .damping_per_s = 250.0,
                           .dt_s = 1.2e-5,
                           .mid_dt_s = 1.15e-5};

Three<double> three(const Vec3& v) { return {v.x(), v.y(), v.z()}; }
Vec3 vector(const Three<double>& v) { return {v.x, v.y, v.z}; }

template <class T>
bool same_bits(const std::vector<T>& a, const std::vector<T>& b) {
  return a.size() == b.size() && std::memcmp(a.data(), b.data(), a.size() * sizeof(T)) == 0;
}
template <class Sums>
bool same_bits(const Sums& a, const Sums& b) {
  return std::memcmp(a.lane, b.lane, sizeof a.lane) == 0;
}

class EveryKernel : public testing::Test {
 protected:
  /// `lots` with the kernels, `alone` node by node, those that are wanted; both change what they are given.
  template <class Sums, class Lots, class Alone>
  void compare(Lots&& lots, Alone&& alone, bool predicts = false) {
    int checked = 0;
    for (const Kernels& kernels : available_kernels()) {
      Nodes by_lot, by_node;
      Sums of_lots, of_nodes;
      const MovingNodes view = by_lot.view();
      for (int first = 0; first < kNodes; first += kLot) lots(kernels, view, first, of_lots);
      for (int i = 0; i < kNodes; ++i) {
        if (is_wanted(i))
          alone(by_node, i, of_nodes);
        else if (predicts)  // nothing is said of the others
          by_lot.predicted_m_s[at(i)] = by_node.predicted_m_s[at(i)];
      }
      EXPECT_TRUE(same_bits(of_lots, of_nodes)) << kernels.name;
      EXPECT_TRUE(same_bits(by_lot.predicted_m_s, by_node.predicted_m_s)) << kernels.name;
      EXPECT_TRUE(same_bits(by_lot.v_m_s, by_node.v_m_s)) << kernels.name;
      EXPECT_TRUE(same_bits(by_lot.x_m, by_node.x_m)) << kernels.name;
      EXPECT_TRUE(same_bits(by_lot.moved, by_node.moved)) << kernels.name;
      ++checked;
    }
    EXPECT_GE(checked, 1);
  }
};
using Lots = EveryKernel;

TEST_F(Lots, PredictAsEachNodeAlone) {
  compare<GasSums>([](const Kernels& k, const MovingNodes& n, int first,
                      GasSums& sums) { k.predict(kStep, n, first, wanted_of(first), sums); },
                   [](Nodes& n, int i, GasSums& sums) {
                     const double per_mass = kStep.push_s / n.mass_kg[at(i)];
                     const auto area = three(n.area_m2[at(i)]);
                     const auto v = pushed(without_gas(kStep, per_mass, three(n.v_m_s[at(i)]), three(n.force_N[at(i)]),
                                                       n.weight_N[at(i)]),
                                           per_mass, n.back_Pa[at(i)], area);
                     n.predicted_m_s[at(i)] = vector(v);
                     const auto add = [&](GasSums::Field field, double x) { sums.lane[field][i % kLot] += x; };
                     add(GasSums::kVolume_m3, volume_m3(kStep, three(n.x_m[at(i)]), area));
                     add(GasSums::kRate_m3_s, rate_m3_s(kStep, v, area));
                     add(GasSums::kSoftness_m3_sPa, per_mass * dot(area, area));
                     add(GasSums::kFreeAreaUp_m2, area.z);
                   },
                   true);
}

TEST_F(Lots, HoldAsEachNodeAlone) {
  compare<GasSums>([](const Kernels& k, const MovingNodes& n, int first,
                      GasSums& sums) { k.hold(kStep, n, first, wanted_of(first), sums); },
                   [](Nodes& n, int i, GasSums& sums) {
                     const auto area = three(n.area_m2[at(i)]);
                     sums.lane[GasSums::kVolume_m3][i % kLot] += volume_m3(kStep, three(n.x_m[at(i)]), area);
                     sums.lane[GasSums::kRate_m3_s][i % kLot] += area.z * kStep.clamp_m_s;
                     sums.lane[GasSums::kFreeAreaUp_m2][i % kLot] += area.z;
                   });
}

TEST_F(Lots, ArePushedAsEachNodeAlone) {
  constexpr double kPressure_Pa = 3e5;
  compare<GasSums>([](const Kernels& k, const MovingNodes& n, int first,
                      GasSums&) { k.push(kStep, n, first, wanted_of(first), kPressure_Pa); },
                   [](Nodes& n, int i, GasSums&) {
                     n.predicted_m_s[at(i)] =
                         vector(pushed(three(n.predicted_m_s[at(i)]), kStep.push_s / n.mass_kg[at(i)], -kPressure_Pa,
                                       three(n.area_m2[at(i)])));
                   });
}

TEST_F(Lots, MoveAsEachNodeAlone) {
  compare<NodeSums>([](const Kernels& k, const MovingNodes& n, int first,
                       NodeSums& sums) { k.move(kStep, n, first, wanted_of(first), sums); },
                    [](Nodes& n, int i, NodeSums& sums) {
                      const Vec3 before = n.x_m[at(i)], v = n.predicted_m_s[at(i)];
                      const auto b = booked(kStep, n.mass_kg[at(i)], n.back_Pa[at(i)], three(n.area_m2[at(i)]),
                                            three(n.v_m_s[at(i)]), three(v));
                      const auto add = [&](NodeSums::Field field, double x) { sums.lane[field][i % kLot] += x; };
                      add(NodeSums::kKinetic_J, b.kinetic_J), add(NodeSums::kLoud_J, b.loud_J);
                      add(NodeSums::kDamping_J, b.damping_J), add(NodeSums::kClamp_J, b.clamp_J),
                          add(NodeSums::kAir_J, b.air_J);
                      n.v_m_s[at(i)] = v;
                      n.x_m[at(i)] += kStep.dt_s * v;
                      n.moved[at(i)] = n.x_m[at(i)] != before;
                    });
}

TEST_F(Lots, LieOnAsEachNodeAlone) {
  constexpr double kPressure_Pa = 3e5;
  int lay = 0, left = 0;
  const auto inward_of = [](const Nodes& n, int i) {
    return pressed_on_m_s(kStep, n.mass_kg[at(i)], kPressure_Pa - n.back_Pa[at(i)], n.pull_N[at(i)], n.bears_m2[at(i)],
                          n.normal_z[at(i)]);
  };
  const auto lies = [&](const Nodes& n, int i) { return inward_of(n, i) > 0.0; };
  compare<NodeSums>(
      [&](const Kernels& k, const MovingNodes& n, int first, NodeSums& sums) {
        LotNodes expected = 0;
        const Nodes same;
        for (int i = first; i < first + kLot; ++i)
          if (is_wanted(i)) (lies(same, i) ? ++lay : ++left), expected |= (lies(same, i) ? 1U : 0U) << (i - first);
        std::array<double, kLot> inward_m_s;
        EXPECT_EQ(k.lie(kStep, n, first, wanted_of(first), kPressure_Pa, sums, inward_m_s.data()), expected) << k.name;
        for (int i = first; i < first + kLot; ++i) EXPECT_EQ(inward_m_s[at(i - first)], inward_of(same, i)) << k.name;
      },
      [&](Nodes& n, int i, NodeSums& sums) {
        if (!lies(n, i)) return;
        sums.lane[NodeSums::kDamping_J][i % kLot] += drag_of_frame_J(kStep, n.mass_kg[at(i)]);
        sums.lane[NodeSums::kClamp_J][i % kLot] += drag_of_frame_J(kStep, n.mass_kg[at(i)]);
        sums.lane[NodeSums::kLoaded][i % kLot] += 1.0;
      });
  EXPECT_GT(lay, 3);
  EXPECT_GT(left, 3);
}

TEST_F(Lots, WayIsAsLongAsTheLongestAndSaysSoOfNoNumber) {
  int checked = 0;
  for (const Kernels& kernels : available_kernels()) {
    Nodes n;
    for (int first = 0; first < kNodes; first += kLot) {
      double longest = 0.0;
      for (int i = first; i < first + kLot; ++i)
        if (is_wanted(i)) longest = std::max(longest, kStep.dt_s * n.predicted_m_s[at(i)].norm());
      const double way_m = kernels.way_m(kStep, n.view(), first, wanted_of(first));
      EXPECT_GE(way_m, (1.0 - 1e-15) * longest) << kernels.name;  // root of a sum of squares, eight of them
      EXPECT_LE(way_m, (1.0 + 1e-15) * std::sqrt(8.0) * longest) << kernels.name;
      ++checked;
    }
    n.predicted_m_s[3].y() = std::numeric_limits<double>::quiet_NaN();
    EXPECT_TRUE(std::isnan(kernels.way_m(kStep, n.view(), 0, kWholeLot))) << kernels.name;
  }
  EXPECT_GE(checked, kNodes / kLot);
}

/// The books of one free node, by docs/theory/time.md eq. 9 and 10 in vectors.
TEST(Motion, BooksOfANodeAreThoseOfTheTheoryPage) {
  const Nodes n;
  int checked = 0;
  for (int i = 0; i < kNodes; ++i) {
    const Vec3 before = n.v_m_s[at(i)], v = n.predicted_m_s[at(i)], up = Vec3::UnitZ(), middle = 0.5 * (before + v);
    const Vec3 frame = kStep.frame_m_s * up, last = kStep.last_frame_m_s * up, mean_frame = 0.5 * (frame + last);
    const double m = n.mass_kg[at(i)];
    const Vec3 drag = 0.5 * kStep.damping_per_s * m * kStep.mid_dt_s * ((before - last) + (v - frame));
    const auto b = booked(kStep, m, n.back_Pa[at(i)], three(n.area_m2[at(i)]), three(before), three(v));
    const auto near = [&](double got, double wanted, double size) {
      EXPECT_NEAR(got, wanted, 1e-14 * std::fabs(size)) << "node " << i;  // some roundings
      ++checked;
    };
    const double most = m * (v.squaredNorm() + before.squaredNorm() + 0.1);
    near(b.kinetic_J, 0.5 * m * v.squaredNorm(), most);
    near(b.loud_J, 0.5 * m * std::min(v.squaredNorm(), (v - kStep.clamp_m_s * up).squaredNorm()), most);
    near(b.damping_J, drag.dot(middle - mean_frame), most);
    near(b.clamp_J, -drag.dot(mean_frame) + m * (frame - last).dot(middle), most);
    near(b.air_J, -n.back_Pa[at(i)] * n.area_m2[at(i)].dot(middle) * kStep.mid_dt_s, 1e-7);
  }
  EXPECT_EQ(checked, 5 * kNodes);
}

TEST(OrderedLots, AddsUpEveryNodeOnceWhateverTheCount) {
  int checked = 0;
  for (const int n : {0, 1, 7, 8, 9, 511, 513, 5003}) {
    OrderedLots<GasSums> sum;
    const GasSums lots = sum(n, [&](int first, int count, GasSums& sums) {
      EXPECT_LE(count, kLot);
      for (int i = first; i < first + count; ++i) sums.lane[GasSums::kRate_m3_s][i % kLot] += i;
    });
    EXPECT_EQ(total(lots, GasSums::kRate_m3_s), 0.5 * n * (n - 1.0)) << n;  // whole numbers, exact
    EXPECT_EQ(total(lots, GasSums::kVolume_m3), 0.0);
    ++checked;
  }
  EXPECT_EQ(checked, 8);
}

}  // namespace
}  // namespace pellicle::sheet
