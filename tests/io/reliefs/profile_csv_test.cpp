// A table of points becomes a profile; each spoilt one is refused with its line.
#include "io/reliefs/profile_csv.h"

#include "mesh/check.h"

#include <gtest/gtest.h>

#include <string>

namespace pellicle::reliefs {
namespace {

using Kind = mesh::Profile::Kind;

TEST(ProfileCsv, ReadsAStripAndARoundOne) {
  const mesh::Profile strip =
      read_profile_csv("\xEF\xBB\xBFx_mm , z_mm\r\n-0.5,0\r\n\r\n 0.25 ,\t-0.4\r\n+1e0,0.0", "g.csv", Kind::kStrip);
  EXPECT_EQ(strip.kind, Kind::kStrip);
  ASSERT_EQ(strip.x_m.size(), 3U);
  EXPECT_EQ(strip.x_m[0], -0.5e-3);
  EXPECT_EQ(strip.x_m[1], 0.25e-3);
  EXPECT_EQ(strip.z_m[1], -0.4e-3);
  EXPECT_EQ(strip.x_m[2], 1e-3);
  const mesh::Profile noted =
      read_profile_csv("# of a gauge\n\nx_mm,z_mm\n0,1\n# worn here\n2,0\n", "g.csv", Kind::kStrip);
  EXPECT_EQ(noted.x_m, (std::vector<double>{0.0, 2e-3}));
  EXPECT_EQ(read_profile_csv("x_mm,z_mm\n0,1\n2,0\n", "g.csv", Kind::kRound).kind, Kind::kRound);
  EXPECT_EQ(read_profile_csv("x_mm,z_mm\n0,1\n1,0\n2,1\n", "g.csv", Kind::kStrip, true).x_m.size(), 3U);
}

struct Spoilt {
  const char* text;
  Kind kind;
  bool periodic;
  const char* where;
  const char* found;
};

TEST(ProfileCsv, SpoiltTablesAreRefusedWithTheirLine) {
  const Spoilt spoilt[]{
      {"", Kind::kStrip, false, "g.csv", "empty file"},
      {"0,1\n1,2\n", Kind::kStrip, false, "g.csv:1", "0,1"},
      {"x,z\n0,1\n1,2\n", Kind::kStrip, false, "g.csv:1", "x,z"},
      {"z_mm,x_mm\n0,1\n1,2\n", Kind::kStrip, false, "g.csv:1", "z_mm"},
      {"x_mm,z_mm,y_mm\n0,1,2\n", Kind::kStrip, false, "g.csv:1", "y_mm"},
      {"# nothing\n\n", Kind::kStrip, false, "g.csv", "empty file"},
      {"x_mm,z_mm\n", Kind::kStrip, false, "g.csv:1", "0 points"},
      {"x_mm,z_mm\n0,1\n", Kind::kStrip, false, "g.csv:2", "1 points"},
      {"x_mm,z_mm\n0,1\n1\n", Kind::kStrip, false, "g.csv:3", "\"1\""},
      {"x_mm,z_mm\n0,1\n1,2,3\n", Kind::kStrip, false, "g.csv:3", "1,2,3"},
      {"x_mm,z_mm\n0,1\n0,5;1\n", Kind::kStrip, false, "g.csv:3", "\"5;1\" as z_mm"},
      {"x_mm,z_mm\n0,1\n1;2\n", Kind::kStrip, false, "g.csv:3", "1;2"},
      {"x_mm,z_mm\n0,1\n\n\n1,high\n", Kind::kStrip, false, "g.csv:5", "\"high\" as z_mm"},
      {"x_mm,z_mm\n0,1\n,2\n", Kind::kStrip, false, "g.csv:3", "nothing as x_mm"},
      {"x_mm,z_mm\n0,1\nnan,2\n", Kind::kStrip, false, "g.csv:3", "\"nan\" as x_mm"},
      {"x_mm,z_mm\n0,inf\n1,2\n", Kind::kStrip, false, "g.csv:2", "\"inf\" as z_mm"},
      {"x_mm,z_mm\n0,1\n1 mm,2\n", Kind::kStrip, false, "g.csv:3", "1 mm"},
      {"x_mm,z_mm\n0,1\n1,2000\n", Kind::kStrip, false, "g.csv:3", "z_mm of 2000 mm"},
      {"x_mm,z_mm\n0,1\n0,2\n", Kind::kStrip, false, "g.csv:3", "x_mm of 0 after 0"},
      {"x_mm,z_mm\n0,1\n2,2\n1,2\n", Kind::kStrip, false, "g.csv:4", "x_mm of 1 after 2"},
      {"x_mm,z_mm\n0,1\n1,1\n2,1\n", Kind::kStrip, false, "g.csv", "the same z_mm, 1"},
      {"x_mm,z_mm\n-1,0\n0,1\n1,0\n", Kind::kRound, false, "g.csv:2", "starts at x_mm = -1"},
      {"x_mm,z_mm\n0.1,0\n1,1\n", Kind::kRound, false, "g.csv:2", "starts at x_mm = 0.1"},
      {"x_mm,z_mm\n0,0\n1,1\n2,0.5\n", Kind::kStrip, true, "g.csv:4", "0.5 at the end, 0 at the start"},
      {"x_mm,z_mm\n0,\xff\xfe\n1,1\n", Kind::kStrip, false, "g.csv:2", "as z_mm"},
  };
  int refused = 0;
  for (const Spoilt& s : spoilt) {
    try {
      read_profile_csv(s.text, "g.csv", s.kind, s.periodic);
      ADD_FAILURE() << "was taken: " << s.text;
    } catch (const Error& error) {
      EXPECT_EQ(error.exit_code(), 3);
      EXPECT_EQ(error.fault().where, s.where) << s.text;
      EXPECT_NE(error.fault().found.find(s.found), std::string::npos) << s.text << ": " << error.what();
      EXPECT_FALSE(error.fault().allowed.empty());
      ++refused;
    }
  }
  EXPECT_EQ(refused, 25);
}

TEST(ProfileCsv, TooManyPointsAreRefused) {
  std::string text = "x_mm,z_mm\n";
  for (std::size_t k = 0; k <= kMostProfilePoints; ++k) text += std::to_string(1e-3 * static_cast<double>(k)) + ",1\n";
  try {
    read_profile_csv(text, "g.csv", Kind::kStrip);
    ADD_FAILURE() << "was taken";
  } catch (const Error& error) {
    EXPECT_EQ(error.fault().where, "g.csv:100002");
    EXPECT_NE(error.fault().found.find("more than 100000"), std::string::npos) << error.what();
  }
}

}  // namespace
}  // namespace pellicle::reliefs
