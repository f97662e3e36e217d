// Does a picture hold what it was given, where it was told, in XML that can be read?
#include "io/report/plot.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <regex>
#include <set>
#include <string>

namespace pellicle::report {
namespace {

Figure two_curves() {
  PlotPanel panel{"0.75 mm & more", {"width (mm)", 0.0, 2.0}, {"depth (mm)", 0.0, 1.0}, {}, {}};
  panel.curves = {{"1 bar", {{0.0, 0.0}, {2.0, 1.0}}}, {"2 bar", {{0.0, 0.5}, {1.0, 0.5}, {2.0, 3.0}}}};
  panel.bands = {{"modulus <low> to high", {{0.0, 0.0}, {2.0, 0.2}}, {{0.0, 0.1}, {2.0, 0.9}}}};
  return {"Title", {"a note"}, {panel}};
}

int count(const std::string& text, const std::string& part) {
  int found = 0;
  for (auto at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) ++found;
  return found;
}

TEST(Plot, TicksAreRoundNumbers) {
  EXPECT_EQ(axis_ticks({"", 0.0, 1.0}, 5), (std::vector<double>{0.0, 0.2, 0.4, 2.0 * 0.2 + 0.2, 0.8, 1.0}));
  const std::vector<double> decades = axis_ticks({"", 0.1, 3.0, true}, 5);
  ASSERT_EQ(decades.size(), 5U);
  EXPECT_NEAR(decades.front(), 0.1, 1e-12);
  EXPECT_NEAR(decades.back(), 2.0, 1e-12);
  EXPECT_EQ(axis_ticks({"", 0.9, 3.5, true}, 5), (std::vector<double>{1.0, 1.5, 2.0, 3.0}));
  EXPECT_EQ(axis_ticks({"", 0.5, 2000.0, true}, 5), (std::vector<double>{1.0, 10.0, 100.0, 1000.0}));
  EXPECT_EQ(axis_ticks({"", 0.0, 37.0}, 6).back(), 35.0);
}

// Left lower corner to right upper corner: the frame of the one panel.
TEST(Plot, CurvesLieWhereTheirNumbersSay) {
  const std::string text = svg(two_curves());
  std::smatch frame;
  ASSERT_TRUE(std::regex_search(text, frame,
                                std::regex("<clipPath id=\"frame0\"><rect x=\"([0-9.]+)\" y=\"([0-9.]+)\" "
                                           "width=\"([0-9.]+)\" height=\"([0-9.]+)\"")));
  const double x = std::stod(frame[1]), y = std::stod(frame[2]), w = std::stod(frame[3]), h = std::stod(frame[4]);
  std::smatch line;
  ASSERT_TRUE(std::regex_search(text, line, std::regex("M([0-9.]+) ([0-9.]+)L([0-9.]+) ([0-9.]+)\" fill=\"none\"")));
  EXPECT_NEAR(std::stod(line[1]), x, 0.011);  // two decimals are written
  EXPECT_NEAR(std::stod(line[2]), y + h, 0.011);
  EXPECT_NEAR(std::stod(line[3]), x + w, 0.011);
  EXPECT_NEAR(std::stod(line[4]), y, 0.011);
}

// A panel is 440 wide with margins of 80; a letter of the notes is 6.6 wide in the mean.
TEST(Plot, LongNotesAreBrokenIntoLines) {
  Figure figure = two_curves();
  std::string note;
  for (int i = 0; i < 40; ++i) note += (i > 0 ? " word" : "word") + std::to_string(i);
  figure.notes = {note};
  const std::string text = svg(figure);
  std::string joined;
  int lines = 0;
  const std::regex line("fill=\"#444444\">([^<]*)<");
  for (auto it = std::sregex_iterator(text.begin(), text.end(), line); it != std::sregex_iterator(); ++it, ++lines) {
    EXPECT_LE((*it)[1].length(), 54);
    joined += (joined.empty() ? "" : " ") + (*it)[1].str();
  }
  EXPECT_GT(lines, 4);
  EXPECT_EQ(joined, note);
}

TEST(Plot, IsPlainXmlWithoutScripts) {
  const std::string text = svg(two_curves());
  EXPECT_EQ(text.substr(0, 4), "<svg");
  EXPECT_EQ(count(text, "<script") + count(text, "href") + count(text, "onload"), 0);
  EXPECT_EQ(count(text, "&amp; more"), 1);
  EXPECT_EQ(count(text, "&lt;low&gt;"), 1);
  for (const char* tag : {"text", "g", "clipPath", "title", "svg"})
    EXPECT_EQ(count(text, std::string("<") + tag + " ") + count(text, std::string("<") + tag + ">"),
              count(text, std::string("</") + tag + ">"))
        << tag;
  EXPECT_EQ(text, svg(two_curves()));
}

// Six names have six colours and six kinds of dashes; a name looks alike in every panel.
TEST(Plot, CurvesCanBeToldApart) {
  Figure figure = two_curves();
  figure.panels[0].curves.clear();
  for (const char* name : {"a", "b", "c", "d", "e", "f"})
    figure.panels[0].curves.push_back({name, {{0.0, 0.0}, {1.0, 1.0}}});
  figure.panels.push_back(figure.panels[0]);
  std::reverse(figure.panels[1].curves.begin(), figure.panels[1].curves.end());
  const std::string text = svg(figure);
  std::multiset<std::string> looks;
  const std::regex curve("stroke=\"(#[0-9A-F]{6})\" stroke-width=\"2\" stroke-dasharray=\"([^\"]*)\" stroke-linejoin");
  for (std::sregex_iterator it(text.begin(), text.end(), curve), end; it != end; ++it) looks.insert((*it)[0]);
  EXPECT_EQ(looks.size(), 12U);
  EXPECT_EQ(std::set<std::string>(looks.begin(), looks.end()).size(), 6U);
}

}  // namespace
}  // namespace pellicle::report
