// Do finer elements give better walls where the sheet meets a mould? The problems of `verify`, mesh halved twice.
#include "io/verify/verify.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <string>

namespace pellicle {
namespace {

double rms_error(const std::string& name, int elements_on_radius) {
  const std::vector<verify::Problem> all = verify::problems(elements_on_radius);
  const auto problem = std::find_if(all.begin(), all.end(), [&](const verify::Problem& p) { return p.name == name; });
  EXPECT_NE(problem, all.end()) << name;
  if (problem == all.end()) return 0.0;
  const auto folder = std::filesystem::temp_directory_path() /
                      ("pellicle-convergence-" + name + "-" + std::to_string(elements_on_radius));
  std::filesystem::remove_all(folder);
  const verify::Verdict v = verify::run_problem(*problem, folder, 1, {});
  std::filesystem::remove_all(folder);
  const auto rms =
      std::find_if(v.checks.begin(), v.checks.end(), [](const verify::Check& c) { return c.name == "thickness, rms"; });
  EXPECT_NE(rms, v.checks.end()) << name;
  return rms == v.checks.end() ? 0.0 : rms->error;
}

// Where rows of elements land one by one the error is of first order at the contact lines and of second elsewhere: 1.7
// a halving at least. 10, 20 and 40 elements on the radius; bands of two elements at contact lines are left out.
class MouldConvergence : public testing::TestWithParam<const char*> {};
TEST_P(MouldConvergence, HalvedElementsPay) {
  const double coarse = rms_error(GetParam(), 10), middle = rms_error(GetParam(), 20), fine = rms_error(GetParam(), 40);
  RecordProperty("rms_10", std::to_string(coarse));
  RecordProperty("rms_20", std::to_string(middle));
  RecordProperty("rms_40", std::to_string(fine));
  EXPECT_GT(coarse, 1.7 * middle);
  EXPECT_GT(middle, 1.7 * fine);
  EXPECT_LT(fine, 0.002);
}
INSTANTIATE_TEST_SUITE_P(Sticking, MouldConvergence,
                         testing::Values("sticking-sphere-neo-hookean", "sticking-cone-60-yeoh"));
INSTANTIATE_TEST_SUITE_P(Sliding, MouldConvergence, testing::Values("sliding-sphere-neo-hookean", "sliding-cup-yeoh"));

}  // namespace
}  // namespace pellicle
