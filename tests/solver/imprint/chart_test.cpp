// Narrowest strokes, against screening, a section put back in, and what must be monotone.
#include "solver/imprint/chart.h"

#include "mesh/check.h"
#include "solver/imprint/screening.h"
#include "solver/imprint/section.h"

#include <gtest/gtest.h>
#include <omp.h>

#include <array>
#include <cmath>
#include <numbers>

namespace pellicle::imprint {
namespace {

// The same formula as screening's, which takes the shallower of two ways: equal where both are one.
TEST(Chart, LayerTheoryIsThatOfScreening) {
  for (const double width_m : {0.2e-3, 0.7e-3, 2e-3}) {
    const double screened = stroke_depth_m(width_m, 0.6e-3, 1.3, 1.3, 0.4e6, 0.3e6);
    EXPECT_NEAR(width_m * layer_depth_over_width(width_m / 0.6e-3, {1.3, 1.3}, 0.75), screened, 1e-12 * screened);
  }
  EXPECT_GT(layer_depth_over_width(1.0, {1.0, 1.5}, 0.5), layer_depth_over_width(1.0, {1.5, 1.0}, 0.5));
}

// Slots at a pitch of 5 w on a half-space are collinear cracks (physics: Tada, Paris and Irwin; from memory):
// d = (p/(2 G)) (P/pi) acosh(1/cos(pi w/(2 P))), E* = 4 G. Mesh and rounded edges take 1 to 2 % each, the finite
// thickness of w/h = 1/4 adds 0.2 %.
TEST(Chart, NarrowStrokesAreCollinearCracks) {
  const double p = 0.01,
               closed = 0.5 * p * (5.0 / std::numbers::pi) * std::acosh(1.0 / std::cos(0.1 * std::numbers::pi));
  EXPECT_NEAR(layer_depth_over_width(0.125, {}, p) / closed, 1.0, 0.008);  // error of the slot table
  EXPECT_NEAR(*section_depth_over_width(0.25, {}, p) / closed, 1.0, 0.04);
}

TEST(Chart, RangeIsTheOneOfTheTheoryPage) {
  EXPECT_TRUE(layer_theory_holds(1.9, 0.25, {}));
  EXPECT_FALSE(layer_theory_holds(2.0, 0.1, {}));
  EXPECT_FALSE(layer_theory_holds(1.0, 0.26, {}));
  EXPECT_TRUE(layer_theory_holds(3.9, 0.1, {1.3, 1.3}));
  EXPECT_FALSE(layer_theory_holds(4.0, 0.1, {1.3, 1.3}));
}

struct Curves {
  static constexpr std::array<double, 3> kPressures{0.4, 0.9, 2.0};
  std::vector<StrokeCurve> plain = stroke_curves({{kPressures.begin(), kPressures.end()}, {}, 0.15, 0.7, {}});
};

const Curves& curves() {
  static const Curves made;
  return made;
}

// Width found, put back into the curve, gives the depth: to round-off of 60 halvings. Sections of their own 3 % wider
// and narrower are deeper and less deep: sections of neighbouring widths scatter by 1 to 2 % in depth at p/G = 2
// (their meshes have other numbers of columns), and the cubic between points of the curve adds as much.
TEST(Chart, WidthPutBackGivesTheDepth) {
  int looked = 0, solved = 0;
  for (std::size_t i = 0; i < curves().plain.size(); ++i) {
    const StrokeCurve& curve = curves().plain[i];
    ASSERT_EQ(curve.model(), ChartModel::kSection);
    for (const double depth : {0.05, 0.15, 0.3, 0.5, 0.7}) {
      const auto width = curve.width_over_thickness(depth);
      ASSERT_TRUE(width) << depth;
      EXPECT_NEAR(*curve.depth_over_thickness(*width), depth, 1e-9 * depth);
      ++looked;
      if (depth != 0.15 && depth != 0.7) continue;
      const double narrower = 0.97 * *width, wider = 1.03 * *width;
      EXPECT_LT(narrower * section_depth_over_width(narrower, {}, Curves::kPressures[i]).value(), depth);
      EXPECT_GT(wider * section_depth_over_width(wider, {}, Curves::kPressures[i]).value(), depth);
      ++solved;
    }
  }
  EXPECT_EQ(looked, 15);
  EXPECT_EQ(solved, 6);
}

// Deeper asks for wider; more pressure, or a softer sheet, takes narrower ones. As p/G is all there is of both, the
// two are one check.
TEST(Chart, WidthGrowsWithDepthAndFallsWithPressure) {
  int compared = 0;
  double last_of_curve = 1e9;
  for (const StrokeCurve& curve : curves().plain) {
    double last = 0.0;
    for (double depth = 0.02; depth < 0.69; depth += 0.01, ++compared) {
      const double width = curve.width_over_thickness(depth).value();
      EXPECT_GT(width, last);
      last = width;
    }
    EXPECT_LT(last, last_of_curve);
    last_of_curve = last;
  }
  EXPECT_EQ(compared, 201);
}

TEST(Chart, StretchAcrossAsksForWiderStrokes) {
  const auto width = [](StrokeStretch stretch) {
    return stroke_curves({{0.9}, stretch, 0.3, 0.4, {}}).front().width_over_thickness(0.35).value();
  };
  const double plain = width({}), along = width({1.0, 1.3}), across = width({1.3, 1.0});
  EXPECT_GT(across, plain);
  EXPECT_GT(across, along);
}

TEST(Chart, ShallowStrokesAreLeftToLayerTheory) {
  const StrokeCurve curve = stroke_curves({{0.3}, {}, 0.02, 0.08, {}}).front();
  EXPECT_EQ(curve.model(), ChartModel::kLayer);
  EXPECT_EQ(curve.end(), ChartEnd::kDeepEnough);
  const double width = curve.width_over_thickness(0.05).value();
  // Cubic between points of half a doubling: below a thousandth.
  EXPECT_NEAR(width * layer_depth_over_width(width, {}, 0.3), 0.05, 1e-3 * 0.05);
}

// A curve of one point goes on below it with the shape of layer theory.
TEST(Chart, OnePointIsACurve) {
  const StrokeCurve curve({{1.0, 0.3}}, ChartModel::kSection, ChartEnd::kDeepEnough, {}, 0.9);
  EXPECT_NEAR(curve.width_over_thickness(0.3).value(), 1.0, 1e-12);
  const double width = curve.width_over_thickness(0.1).value();
  const auto layer = [](double w) { return w * layer_depth_over_width(w, {}, 0.9); };
  EXPECT_NEAR(layer(width) / layer(1.0), 1.0 / 3.0, 1e-9);
  EXPECT_FALSE(curve.width_over_thickness(0.31));
  EXPECT_FALSE(StrokeCurve({}, ChartModel::kSection, ChartEnd::kNoBalance, {}, 0.9).width_over_thickness(0.1));
}

TEST(Chart, SaysWhereItEnds) {
  // Little pressure: even a stroke of 16 thicknesses is not formed to ten of them.
  const StrokeCurve faint = stroke_curves({{0.05}, {}, 9.0, 10.0, {}}).front();
  EXPECT_EQ(faint.end(), ChartEnd::kWidest);
  EXPECT_FALSE(faint.width_over_thickness(10.0));
  EXPECT_FALSE(faint.depth_over_thickness(17.0));
}

TEST(Chart, SameBitsForAnyThreads) {
  const ChartTask task{{0.5, 0.8, 1.1}, {}, 0.3, 0.35, {}};
  const int before = omp_get_max_threads();
  omp_set_num_threads(1);
  const auto one = stroke_curves(task);
  omp_set_num_threads(3);
  const auto three = stroke_curves(task);
  omp_set_num_threads(before);
  int compared = 0;
  ASSERT_EQ(one.size(), three.size());
  for (std::size_t i = 0; i < one.size(); ++i) {
    ASSERT_EQ(one[i].points().size(), three[i].points().size());
    for (std::size_t k = 0; k < one[i].points().size(); ++k, ++compared)
      EXPECT_EQ(one[i].points()[k].depth_over_thickness, three[i].points()[k].depth_over_thickness);
  }
  EXPECT_GT(compared, 5);
}

TEST(Chart, RefusesWhatIsOutOfRange) {
  int refused = 0;
  for (const ChartTask& task : {ChartTask{{0.0}, {}, 0.1, 1.0, {}}, ChartTask{{20.0}, {}, 0.1, 1.0, {}},
                                ChartTask{{1.0}, {0.1, 1.0}, 0.1, 1.0, {}}, ChartTask{{1.0}, {5.0, 5.0}, 0.1, 1.0, {}},
                                ChartTask{{1.0}, {}, 0.0, 1.0, {}}, ChartTask{{1.0}, {}, 0.5, 0.1, {}}}) {
    try {
      stroke_curves(task);
    } catch (const Error& error) {
      EXPECT_EQ(error.fault().kind, Fault::Kind::kCase);
      ++refused;
    }
  }
  EXPECT_EQ(refused, 6);
}

}  // namespace
}  // namespace pellicle::imprint
