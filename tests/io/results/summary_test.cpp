// Does a person read the number, the limit, the place and what to do, on any terminal?
#include "io/results/summary.h"

#include "io/results/relief_files.h"
#include "tests/io/results/made_up.h"
#include "tests/io/results/made_up_relief.h"

#include <fmt/format.h>

#include <algorithm>
#include <sstream>

namespace pellicle::results {
namespace {

Summary made_up_summary() {
  Summary summary;
  summary.title = "Herb marker, basil";
  CaseResult& result = summary.result;
  result.findings = {
      {"thinnest_wall", "How thin is the thinnest wall?", 0.18234, "mm", 0.2, checks::Verdict::kFail,
       mesh::Vec3(0.0123, 0.0045, 0.0012), "The sheet froze on the top edge before the foot was filled.",
       "15 % either way, from the hot stiffness.", "Start with a 1.0 mm sheet, or round the top edge to 1 mm."},
      {"mould_touched", "How much of the mould is touched?", 0.97, "-", {}, checks::Verdict::kPass, {}, "", "", ""},
      {"capture_0.2mm",
       "How much of a 0.2 mm stroke is captured?",
       std::nan(""),
       "-",
       {},
       checks::Verdict::kDoubt,
       {},
       "No stroke of this width was touched.",
       "",
       ""}};
  result.stages.push_back({});
  result.stages.back().name = "press";
  result.elements = 5000;
  result.steps = 123456;
  result.seconds = 12.34;
  summary.warnings = {"The mould is open."};
  summary.not_used_yet = {"mould.resin"};
  return summary;
}

bool holds(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

TEST(SummaryText, SaysVerdictNumberLimitPlaceAndAdviceOnOneScreen) {
  const std::string text = summary_text(made_up_summary(), "herb-marker-results", {false, 110});
  EXPECT_TRUE(holds(text, "Herb marker, basil\n1 failed, 1 in doubt, 1 fine.\n")) << text;
  EXPECT_TRUE(holds(text, "FAIL   How thin is the thinnest wall?")) << text;
  EXPECT_TRUE(holds(text, "0.182 mm   limit 0.2 mm  at (12.3, 4.5, 1.2) mm\n")) << text;
  EXPECT_TRUE(holds(text, "Try: Start with a 1.0 mm sheet")) << text;
  EXPECT_TRUE(holds(text, "no answer")) << text;
  EXPECT_TRUE(holds(text, "herb-marker-results")) << text;
  EXPECT_TRUE(holds(text, "approves")) << text;
  EXPECT_FALSE(holds(text, "\x1b")) << "colour without a terminal";
}

TEST(SummaryText, LimitsThatStrictDoesNotCountAreNamed) {
  Summary summary = made_up_summary();
  const auto names_it = [&] {
    std::string text = summary_text(summary, "out", {false, 120});
    std::replace(text.begin(), text.end(), '\n', ' ');
    return holds(text, "--strict does not count it: How thin is the thinnest wall?");
  };
  EXPECT_TRUE(names_it());
  summary.limits.min_capture = 0.5;  // of another finding
  EXPECT_TRUE(names_it());
  summary.limits.min_thickness_m = 0.2e-3;
  EXPECT_FALSE(names_it());
  summary.limits = {};
  summary.result.findings.front().verdict = checks::Verdict::kDoubt;
  EXPECT_FALSE(names_it());
}

TEST(SummaryText, FitsNarrowTerminals) {
  for (const int width : {60, 80, 110}) {
    std::istringstream lines(summary_text(made_up_summary(), "out", {false, width}));
    int seen = 0;
    for (std::string line; std::getline(lines, line); ++seen) {
      EXPECT_LE(line.size(), static_cast<std::size_t>(width)) << line;
      EXPECT_TRUE(line.empty() || line.back() != ' ') << line;
    }
    EXPECT_GT(seen, 8);
  }
}

TEST(SummaryText, ColourOnlyWhereAskedAndClosedOnItsLine) {
  std::istringstream lines(summary_text(made_up_summary(), "out", {true, 100}));
  int coloured = 0;
  for (std::string line; std::getline(lines, line);) {
    const auto open = line.find("\x1b[");
    if (open == std::string::npos) continue;
    EXPECT_NE(line.find("\x1b[0m"), std::string::npos) << line;
    ++coloured;
  }
  EXPECT_EQ(coloured, 4);  // the title and three verdicts
}

TEST(SummaryText, NamesOnlyTheFilesThatWereWritten) {
  Summary summary = made_up_summary();
  EXPECT_FALSE(holds(summary_text(summary, "out", {}), "mould.xdmf"));
  EXPECT_TRUE(holds(summary_text(summary, "out", {}), "Results: out (read report.html; open sheet.xdmf)\n"));
  summary.has_mould_file = true;
  EXPECT_TRUE(holds(summary_text(summary, "out", {}), "(read report.html; open sheet.xdmf and mould.xdmf"));
}

TEST(SummaryText, NothingToSayIsSaid) {
  Summary summary;
  EXPECT_TRUE(holds(summary_text(summary, "out", {}), "No questions were asked"));
}

TEST(SummaryJson, KeysStandInTheContractsOrder) {
  const std::string json = summary_json(made_up_summary());
  std::size_t last = 0;
  int found = 0;
  for (const char* key :
       {"format", "format_version", "program_version", "title",    "findings", "id",          "question",    "value",
        "unit",   "limit",          "verdict",         "place_mm", "why",      "uncertainty", "advice",      "elements",
        "nodes",  "steps",          "seconds",         "stages",   "reliefs",  "warnings",    "not_used_yet"}) {
    const auto at = json.find(fmt::format("\"{}\": ", key));
    ASSERT_NE(at, std::string::npos) << key;
    EXPECT_GE(at, last) << key;
    last = at;
    ++found;
  }
  EXPECT_EQ(found, 23);
  EXPECT_TRUE(holds(json, "\"value\": null"));
  EXPECT_TRUE(holds(json, "\"place_mm\": [12.3, 4.5, 1.2]"));
}

TEST(SummaryText, ReliefsShowTheWorstStrokesFirst) {
  Summary summary = made_up_summary();
  summary.result.reliefs = {made_up_relief(5, 3)};
  const std::string text = summary_text(summary, "out", {false, 110});
  const auto worst = text.find("  B  "), other = text.find("  A  ");
  ASSERT_NE(worst, std::string::npos) << text;
  EXPECT_LT(worst, other);
  EXPECT_TRUE(holds(text, "Relief title: 2 strokes\n")) << text;
  EXPECT_TRUE(holds(text, "0.31    0.12   -0.4   0.30  9.96, 20.15       section")) << text;
  EXPECT_TRUE(holds(text, "the section of 'B' snapped")) << text;
  EXPECT_TRUE(holds(text, "(read report.html; open sheet.xdmf and relief_*.xdmf)")) << text;
  auto& strokes = summary.result.reliefs[0].answer.strokes;
  strokes.insert(strokes.end(), 20, strokes.front());
  EXPECT_TRUE(holds(summary_text(summary, "out", {}), "22 strokes, the worst 8\n"));
  for (const int width : {40, 60, 80}) {
    std::istringstream lines(summary_text(summary, "out", {false, width}));
    int seen = 0;
    for (std::string line; std::getline(lines, line); ++seen)
      EXPECT_LE(line.size(), static_cast<std::size_t>(std::max(width, 47))) << line;  // a row of numbers is 47 wide
    EXPECT_GT(seen, 20);
  }
}

TEST(SummaryText, ReliefsAloneSayThatNothingWasFormed) {
  Summary summary;
  summary.reliefs_alone = true;
  summary.result.reliefs = {made_up_relief(5, 3)};
  const std::string text = summary_text(summary, "out", {});
  EXPECT_TRUE(holds(text, "Nothing was formed")) << text;
  EXPECT_TRUE(holds(text, "Results: out (read report.html; open relief_*.xdmf)\n")) << text;
  EXPECT_FALSE(holds(text, "triangles")) << text;
}

TEST(SummaryJson, AReliefRepeatsItsFileAndListsItsStrokes) {
  Summary summary = made_up_summary();
  summary.result.reliefs = {made_up_relief(5, 3)};
  const std::string json = summary_json(summary);
  int found = 0;
  for (const ReliefAttribute& attribute : relief_attributes(summary.result.reliefs[0])) {
    EXPECT_TRUE(holds(json, fmt::format("\"{}\": ", attribute.name))) << attribute.name;
    ++found;
  }
  EXPECT_GT(found, 15);
  EXPECT_TRUE(holds(json, "\"file\": \"relief_title.h5\"")) << json;
  EXPECT_TRUE(holds(json, "\"valid\": true"));
  EXPECT_TRUE(holds(json, "\"narrowest_formed_mm\": null"));
  // Stroke B: x = 0.25, y = 0.15 mm on the patch, at the height of its top, 0.4 mm.
  EXPECT_TRUE(holds(json, "\"place_mm\": [9.96, 20.15, 4.47]")) << json;
  EXPECT_TRUE(holds(json, "\"needed_pressure_MPa\": 0.8"));
  EXPECT_TRUE(holds(json, "\"the section of 'B' snapped\""));
}

TEST(ProfileText, SharesAddUp) {
  const std::string text = profile_text({{"membrane forces", 3.0}, {"contact", 1.0}});
  EXPECT_TRUE(holds(text, "75.0 %") && holds(text, "25.0 %") && holds(text, "4.000")) << text;
}

}  // namespace
}  // namespace pellicle::results
