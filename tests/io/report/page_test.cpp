// Is the page whole, safe and complete? Tags are counted, hostile texts put in, findings looked for.
#include "io/report/page.h"

#include "io/report/html.h"
#include "io/report/open_script.h"
#include "io/report/view_data.h"
#include "io/results/cautions.h"
#include "io/results/result_folder.h"
#include "tests/io/results/made_up.h"
#include "tests/io/results/made_up_relief.h"

#include <gtest/gtest.h>

#include <cmath>

namespace pellicle::report {
namespace {

using checks::Verdict;

bool holds(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

int count(const std::string& text, const std::string& part) {
  int n = 0;
  for (std::size_t at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) ++n;
  return n;
}

struct Made {
  results::Summary summary;
  Recording recording;
  std::string case_text = "title = \"<b>&\"\n";
  std::vector<cases::ResolvedValue> values{
      {"sheet.polymer", "petg", cases::Origin::kCase, 3, ""},
      {"sheet.law.shear_modulus", "0.4 MPa", cases::Origin::kCard, 0, "estimate: a <source> & more"}};

  explicit Made(int frames = 3) {
    summary.title = "Basil < \"mint\" & thyme </title><script>";
    summary.result.findings = {{"thinnest_wall", "How thin is the wall?", 0.18234, "mm", 0.2, Verdict::kFail,
                                mesh::Vec3(0.0005, 0.0005, -0.001), "It froze early.", "15 %", "A thicker sheet."},
                               {"capture_0.2mm", "Does a stroke form?", std::nan(""), "-", {}, Verdict::kDoubt},
                               {"soap", "Is it \"clean\" & <dry>?", 3.0, "g", {}, Verdict::kPass}};
    summary.result.reliefs = {results::made_up_relief(6, 4)};
    summary.warnings = {"The mould is <open>."};
    const results::MadeUp sheet(4, 1e-3);
    for (int i = 0; i < frames; ++i) recording.add(sheet.frame(i, 0.1 * i));
    for (int i = 0; i < 5; ++i) {
      forming::HistoryRow row{};
      row.time_s = 0.1 * i;
      row.pressure_Pa = 1e5 * i;
      row.min_thickness_m = 1e-3 - 1e-4 * i;
      recording.add(row);
    }
  }
  PageInput input() const { return {summary, recording, nullptr, case_text, values}; }
};

/// Names of the tags that stay open, wrongly nested ones included; scripts and styles are passed over.
std::vector<std::string> left_open(const std::string& html) {
  std::vector<std::string> open;
  for (std::size_t at = html.find('<'); at != std::string::npos; at = html.find('<', at)) {
    const std::size_t end = html.find('>', at);
    if (end == std::string::npos) return {"a tag without end"};
    const std::string tag = html.substr(at + 1, end - at - 1);
    at = end;
    if (tag.starts_with("!") || tag.ends_with("/")) continue;
    const std::string name = tag.substr(0, tag.find_first_of(" \n"));
    if (name.starts_with("/")) {
      if (open.empty() || "/" + open.back() != name) return {"wrongly closed " + name};
      open.pop_back();
    } else if (name == "script" || name == "style") {
      at = html.find("</" + name + ">", end);
      if (at == std::string::npos) return {name};
      at += name.size() + 2;
    } else {
      open.push_back(name);
    }
  }
  return open;
}

TEST(Page, IsWellFormed) {
  const std::string html = page(Made().input());
  EXPECT_EQ(left_open(html), std::vector<std::string>{});
  EXPECT_GT(count(html, "<section"), 7);
  EXPECT_EQ(left_open("<p><b></p>"), std::vector<std::string>{"wrongly closed /p"}) << "the check can fail";
}

TEST(Page, TextsOfTheUserStayTexts) {
  const std::string html = page(Made().input());
  EXPECT_TRUE(holds(html, "<title>Basil &lt; &quot;mint&quot; &amp; thyme &lt;/title&gt;&lt;script&gt;</title>"));
  EXPECT_FALSE(holds(html, "thyme </title>"));
  EXPECT_TRUE(holds(html, "The mould is &lt;open&gt;."));
  EXPECT_TRUE(holds(html, "title = &quot;&lt;b&gt;&amp;&quot;"));
  EXPECT_TRUE(holds(html, "a &lt;source&gt; &amp; more"));
  EXPECT_TRUE(holds(html, "Is it &quot;clean&quot; &amp; &lt;dry&gt;?"));
}

TEST(Page, TellsEveryFindingWithNumberLimitPlaceAndAdvice) {
  const std::string html = page(Made().input());
  for (int n = 1; n <= 3; ++n) EXPECT_EQ(count(html, "id=\"finding-" + std::to_string(n) + "\""), 1);
  for (const char* text : {"0.182 mm", "limit 0.2 mm", "at (0.5, 0.5, -1.0) mm", "It froze early.", "A thicker sheet.",
                           "no answer", "Change it first", "Anything else?", "<code>soap</code>"})
    EXPECT_TRUE(holds(html, text)) << text;
  EXPECT_TRUE(holds(html,
                    "1 answer fails, 1 is in doubt and 1 is fine. Not asked in this run: layer lines, air, mould "
                    "and release."));
}

TEST(Page, EveryLinkInsideHasItsTargetAndNoIdIsThereTwice) {
  const std::string html = page(Made().input());
  int links = 0;
  for (const std::string start : {"href=\"#", "url(#"})
    for (std::size_t at = html.find(start); at != std::string::npos; at = html.find(start, at + 1), ++links) {
      const std::size_t from = at + start.size();
      const std::string id = html.substr(from, html.find_first_of("\")", from) - from);
      EXPECT_EQ(count(html, "id=\"" + id + "\""), 1) << id;
    }
  EXPECT_GT(links, 10);
}

TEST(Page, CarriesEveryCautionAndSource) {
  const std::string html = page(Made().input());
  for (const results::Caution& caution : results::kCautions) EXPECT_TRUE(holds(html, escaped(caution.full)));
  EXPECT_TRUE(holds(html, "sheet.law.shear_modulus"));
  EXPECT_TRUE(holds(html, results::kNoApproval));
}

TEST(Page, AsksForNothingFromOutside) {
  const std::string html = page(Made().input());
  for (const char* way : {"src=\"http", "href=\"http", "url(http", "src=\"//", "@import", "fetch(", "XMLHttpRequest"})
    EXPECT_FALSE(holds(html, way)) << way;
  EXPECT_TRUE(holds(html, "default-src 'none'"));
}

TEST(Page, WithoutAFormedSheetTellsOfTheReliefsAlone) {
  Made made(0);
  made.recording = {};
  made.summary.reliefs_alone = true;
  const std::string html = page(made.input());
  EXPECT_EQ(left_open(html), std::vector<std::string>{});
  EXPECT_FALSE(holds(html, "id=\"view\""));
  EXPECT_FALSE(holds(html, "id=\"view-data\""));
  EXPECT_TRUE(holds(html, "Relief title"));
  EXPECT_TRUE(holds(html, "Nothing was formed"));
}

TEST(Page, SameInputSameBytes) {
  const Made made;
  EXPECT_EQ(page(made.input()), page(made.input()));
}

TEST(Recording, KeepsFirstAndLastAndWhereTheSheetMoved) {
  const results::MadeUp sheet(2, 1e-3);
  Recording recording;
  for (int i = 0; i < 30; ++i) {
    forming::Frame frame = sheet.frame(i, 0.1 * i);
    frame.swept_volume_m3 = i < 20 ? 0.0 : 1e-6 * (i - 19);  // all motion in the last third
    recording.add(frame);
  }
  const auto& moments = recording.moments();
  ASSERT_EQ(moments.size(), Recording::kMostMoments);
  EXPECT_EQ(moments.front().time_s, 0.0);
  EXPECT_EQ(moments.back().time_s, 0.1 * 29);
  EXPECT_GE(moments[2].time_s, 1.8) << "what stood still is left out";
  EXPECT_EQ(moments[3].fields.size(), 2U);
  EXPECT_GT(moments.back().fields.size(), 4U);
}

TEST(ViewData, PlacesAndValuesComeBackWithinTheirStep) {
  const results::MadeUp sheet(4, 1e-3);
  Recording recording;
  recording.add(sheet.frame(0, 0.0));
  const Moment& moment = recording.moments().front();
  const std::string json = view_json(recording.moments(), sheet_camera(moment, nullptr));
  // 25 nodes: 150 bytes of places are 200 letters, 50 bytes of values 68; 32 triangles of 6 bytes 256.
  const auto text_after = [&](const std::string& key) {
    const std::size_t at = json.find("\"" + key + "\": \"") + key.size() + 5;
    return json.substr(at, json.find('"', at) - at);
  };
  EXPECT_EQ(text_after("points").size(), 200U);
  EXPECT_EQ(text_after("triangles").size(), 256U);
  EXPECT_TRUE(text_after("points").starts_with("AAAAA")) << "the first corner is that of the box in x and y";
  EXPECT_TRUE(holds(json, "\"least\": 0.5,"));
  EXPECT_TRUE(holds(json, "\"largest\": 0.524"));
  EXPECT_FALSE(holds(json, "\"temperature\"")) << "the same everywhere is nothing to see";
}

TEST(ViewData, LeavesMomentsOutUntilItFits) {
  const results::MadeUp sheet(8, 1e-3);
  Recording recording;
  for (int i = 0; i < 6; ++i) recording.add(sheet.frame(i, 0.1 * i));
  const Camera camera = sheet_camera(recording.moments().back(), nullptr);
  const std::string all = view_json(recording.moments(), camera), few = view_json(recording.moments(), camera, 4000),
                    one = view_json(recording.moments(), camera, 1);
  EXPECT_EQ(count(all, "\"points\""), 6);
  EXPECT_EQ(count(all, "\"triangles\": null"), 5) << "told once";
  EXPECT_LT(count(few, "\"points\""), 6);
  EXPECT_EQ(count(one, "\"points\""), 1);
}

TEST(ViewData, TheMouldComesInABoxOfItsOwn) {
  const results::MadeUp sheet(4, 1e-3);
  Recording recording;
  recording.add(sheet.frame(0, 0.0));
  const Camera camera = sheet_camera(recording.moments().front(), nullptr);
  const Coarsened mould{{{{0.0, 0.0, -0.1}, {0.05, 0.0, -0.1}, {0.0, 0.02, 0.3}}, {{0, 1, 2}}}, 0.0};
  const std::string without = view_json(recording.moments(), camera),
                    with = view_json(recording.moments(), camera, 2'000'000, &mould);
  EXPECT_TRUE(holds(without, "\"mould\": null"));
  const std::string told = with.substr(with.find("\"mould\": {"));
  for (const char* text : {"\"low_mm\": [0, 0, -100]", "\"high_mm\": [50, 20, 300]", "\"corner_bytes\": 2",
                           // 0, 0, 0; 65535, 0, 0; 0, 65535, 65535 and 0, 1, 2, by hand in base64.
                           "\"points\": \"AAAAAAAA//8AAAAAAAD/////\"", "\"triangles\": \"AAABAAIA\""})
    EXPECT_TRUE(holds(told, text)) << text << "\n" << told;
}

TEST(Page, ShowsContactOnlyWhereThereWasAny) {
  Made made;
  EXPECT_FALSE(holds(page(made.input()), "Sheet on the mould"));
  forming::HistoryRow row{};
  row.time_s = 0.5;
  row.contact_share = 0.3;
  made.recording.add(row);
  EXPECT_TRUE(holds(page(made.input()), "Sheet on the mould"));
}

TEST(Page, SaysHowTheMouldIsShown) {
  const Made made;
  EXPECT_FALSE(holds(page(made.input()), "id=\"view-mould\""));
  const mesh::TriangleMesh mould{{{0.0, 0.0, 0.0}, {0.05, 0.0, 0.0}, {0.0, 0.02, 0.0}}, {{0, 1, 2}}};
  PageInput input{made.summary, made.recording, &mould, made.case_text, made.values};
  const std::string html = page(input);
  EXPECT_TRUE(holds(html, "id=\"view-mould\""));
  EXPECT_TRUE(holds(html, "the mould grey.</span>"));
  EXPECT_EQ(left_open(html), std::vector<std::string>{});
}

TEST(OpenScript, NamesFilesAndRangesOfThisResult) {
  Made made;
  made.summary.has_mould_file = true;
  const std::string script = open_script(made.input());
  EXPECT_TRUE(script.starts_with(results::kOpenScriptStart));
  for (const char* text : {"SHEET = \"sheet.xdmf\"", "MOULD = \"mould.xdmf\"", "RELIEFS = [\"relief_title.xdmf\"]",
                           "\"thickness (mm)\": (0.5, 0.524)", "\"gap (mm)\": (0, 0.0046)"})
    EXPECT_TRUE(holds(script, text)) << text;
  EXPECT_FALSE(holds(script, "{{"));
}

TEST(Html, ATemplateNeedsATextForEachPlace) {
  EXPECT_EQ(filled("a {{x}} b {{y}}", {{"x", "{{y}}"}, {"y", "2"}}), "a {{y}} b 2") << "texts are not filled again";
  EXPECT_THROW(filled("{{z}}", {}), std::logic_error);
  EXPECT_EQ(inside_script("{\"a\": \"</script>\"}"), "{\"a\": \"\\u003c/script>\"}");
  EXPECT_EQ(number_text(0.46821, "mm"), "0.468 mm");
  EXPECT_EQ(number_text(12345.6, "-"), "12346");
}

}  // namespace
}  // namespace pellicle::report
