// Do the numbers on a picture keep clear of each other?
#include "io/report/labels.h"

#include "io/report/figures.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <string>
#include <vector>

namespace pellicle::report {
namespace {

bool meet(const LabelBox& a, const LabelBox& b) {
  return a.left_px < b.right_px && b.left_px < a.right_px && a.top_px < b.bottom_px && b.top_px < a.bottom_px;
}

int meetings(const std::vector<Label>& labels, const std::vector<double>& down_px) {
  int count = 0;
  for (std::size_t i = 0; i < labels.size(); ++i)
    for (std::size_t j = 0; j < i; ++j)
      count += meet(box_of(labels[i], down_px[i]), box_of(labels[j], down_px[j])) ? 1 : 0;
  return count;
}

std::vector<Label> wider(std::vector<Label> labels, double times) {
  for (Label& l : labels) l.x_px *= times, l.y_px *= times;
  return labels;
}

TEST(Labels, OfThreeFindingsInOnePlaceDoNotMeet) {
  for (const auto& [x, y] : {std::pair{150.0, 60.0}, {150.0, 3.0}, {150.0, 118.0}, {260.0, 60.0}}) {
    const std::vector<Label> labels(3, {x, y, 20.0, 21.0, x > 200.0});
    ASSERT_EQ(meetings(labels, {0.0, 0.0, 0.0}), 3);
    const std::vector<double> down = labels_apart(labels, 120.0);
    EXPECT_EQ(meetings(labels, down), 0);
    for (std::size_t k = 0; k < 3; ++k) {
      EXPECT_GE(box_of(labels[k], down[k]).top_px, 0.0);
      EXPECT_LE(box_of(labels[k], down[k]).bottom_px, 120.0);
    }
  }
}

TEST(Labels, ThatHaveRoomStayWhereTheyAre) {
  const std::vector<Label> labels{{50, 60, 20, 21}, {80, 60, 20, 21}, {50, 90, 20, 21}};
  for (const double down : labels_apart(labels, 200.0)) EXPECT_EQ(down, 0.0);
}

// A crowd by a fixed rule, on both sides of where words change their side; what is laid out for a narrow page holds on
// wider ones.
TEST(Labels, LaidOutForANarrowPageHoldOnAWiderOne) {
  int crowded = 0;
  for (int seed = 1; seed <= 200; ++seed) {
    std::vector<Label> labels;
    for (int k = 0; k < 6; ++k) {
      const double x = 40.0 + std::fmod(137.0 * seed * (k + 1), 190.0),
                   y = 20.0 + std::fmod(71.0 * seed * (k + 2), 90.0);
      labels.push_back({x, y, 18.0 + 9.0 * (k % 3), 21.0, x > 200.0});
    }
    crowded += meetings(labels, std::vector<double>(6, 0.0)) > 0 ? 1 : 0;
    const std::vector<double> down = labels_apart(labels, 170.0);
    for (const double times : {1.0, 1.3, 2.0, 3.5}) EXPECT_EQ(meetings(wider(labels, times), down), 0) << seed;
  }
  EXPECT_GT(crowded, 50) << "labels that never met show nothing";
}

// In the page: the words of three marks within a tenth of a millimetre have three heights, and lines back.
TEST(Labels, AreMovedApartInTheFigure) {
  const Camera camera = camera_on({0, 0, 0}, {0.1, 0.06, 0.0}, -1.5707963, 1.5707963, 840, 500);
  const std::vector<Mark> marks{
      {"3", {0.05, 0.03, 0.0}}, {"7", {0.05005, 0.03, 0.0}}, {"12", {0.05, 0.02995, 0.0}}, {"1", {0.01, 0.05, 0.0}}};
  const std::string html =
      stage_html({840, 500, std::vector<std::uint8_t>(std::size_t{4} * 840 * 500, 255)}, camera, "", marks);
  int led = 0;
  for (std::size_t at = 0; (at = html.find(" led\"", at)) != std::string::npos; ++at) ++led;
  EXPECT_EQ(led, 2) << "the first of the three and the lone one stay";
  EXPECT_NE(html.find(";--down:"), std::string::npos);
}

}  // namespace
}  // namespace pellicle::report
