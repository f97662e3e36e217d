// Is what the mould bears shown in its own numbers? A made-up mould of two triangles.
#include "io/report/mould_pictures.h"

#include <gtest/gtest.h>

namespace pellicle::report {
namespace {

bool holds(const std::string& text, const char* part) { return text.find(part) != std::string::npos; }

const mesh::TriangleMesh kMould{{{0.0, 0.0, 0.0}, {0.05, 0.0, 0.0}, {0.0, 0.02, 0.0}, {0.05, 0.02, 0.01}},
                                {{0, 1, 2}, {1, 3, 2}}};

TEST(MouldPictures, NothingWhereTheRunDidNotAsk) { EXPECT_EQ(mould_figures(kMould, {}), ""); }

TEST(MouldPictures, StressFromZeroAndHeatInDegrees) {
  const std::string html = mould_figures(kMould, {{1e-6, 2e-6}, {0.25, 0.75}, {310.15, 350.15}});
  EXPECT_TRUE(holds(html, "coloured by share of strength from 0 to 0.75\"")) << html.substr(0, 400);
  EXPECT_TRUE(holds(html, "coloured by temperature from 37 to 77 °C"));
  EXPECT_TRUE(holds(html, "id=\"mould_stress\""));
  EXPECT_TRUE(holds(html, "data:image/png"));
}

TEST(MouldPictures, StressAloneWhereTheHeatIsNotKnown) {
  const std::string html = mould_figures(kMould, {{1e-6, 2e-6}, {0.25, 0.75}, {}});
  EXPECT_TRUE(holds(html, "id=\"mould_stress\""));
  EXPECT_FALSE(holds(html, "mould_peak"));
}

TEST(MouldPictures, AFieldOfAnotherMouldIsRefused) {
  EXPECT_ANY_THROW(mould_figures(kMould, {{0.0}, {0.25}, {310.0}}));
}

}  // namespace
}  // namespace pellicle::report
