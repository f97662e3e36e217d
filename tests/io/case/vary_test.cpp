// Which cases does [[vary]] stand for? Counted and ordered by hand; each one against the same case written out.
#include "io/case/vary.h"

#include "io/case/cards.h"
#include "io/case/document_text.h"
#include "mesh/check.h"

#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <set>
#include <sstream>
#include <utility>
#include <variant>

namespace pellicle::cases {
namespace {

namespace fs = std::filesystem;

constexpr const char* kCase = R"([sheet]
polymer = "petg"
thickness = "0.75 mm"
outline = { disc = "100 mm" }
height = "25 mm"
[mould]
surface = "marker.stl"
unit = "mm"
[[forming.stage]]
duration = "0.5 s"
pressure = "1 bar"
[[forming.stage]]
duration = "0.1 s"
pressure = "4 bar"
)";

/// A folder with a case, removed afterwards.
class Vary : public testing::Test {
 protected:
  void SetUp() override {
    folder_ = fs::path(testing::TempDir()) /
              (std::string("pellicle_vary_") + testing::UnitTest::GetInstance()->current_test_info()->name());
    fs::remove_all(folder_);
    fs::create_directories(folder_);
    write("marker.stl", "solid x\nendsolid x\n");  // must exist; is not read here
  }
  void TearDown() override { fs::remove_all(folder_); }
  void write(const std::string& name, const std::string& text) const {
    std::ofstream(folder_ / name, std::ios::binary) << text;
  }
  ParsedSweep parse(const std::string& vary) const {
    write("case.toml", kCase + vary);
    return parse_sweep(folder_);
  }
  std::string refusal(const std::string& vary) const {
    try {
      parse(vary);
    } catch (const Error& error) {
      EXPECT_EQ(error.exit_code(), 2);
      return error.what();
    }
    return "";
  }
  fs::path folder_;
};

std::string vary(const std::string& key, const std::string& rest) {
  return "[[vary]]\nkey = \"" + key + "\"\n" + rest + "\n";
}

TEST_F(Vary, EveryCombinationOnceAndTheLastKeyFastest) {
  const ParsedSweep sweep = parse(vary("sheet.thickness", R"(values = ["0.5 mm", "1 mm"])") +
                                  vary("mould.friction", R"(values = ["stick", 0, 0.3])") +
                                  vary("forming.stage[2].pressure", R"(values = ["3 bar"])"));
  ASSERT_EQ(sweep.cases.size(), 6U);  // 2 x 3 x 1
  std::set<std::pair<double, double>> seen;
  for (std::size_t i = 0; i < 6; ++i) {
    const Case& c = sweep.cases[i].value;
    EXPECT_DOUBLE_EQ(c.sheet.thickness_m, i < 3 ? 0.5e-3 : 1e-3);
    EXPECT_EQ(c.mould->friction.stick, i % 3 == 0);
    if (i % 3 == 2) {
      EXPECT_DOUBLE_EQ(c.mould->friction.coefficient, 0.3);
    }
    EXPECT_DOUBLE_EQ(std::get<PressureDrive>(c.stages[0].drive).pressure_Pa, 1e5);
    EXPECT_DOUBLE_EQ(std::get<PressureDrive>(c.stages[1].drive).pressure_Pa, 3e5);
    seen.emplace(c.sheet.thickness_m, c.mould->friction.stick ? -1.0 : c.mould->friction.coefficient);
  }
  EXPECT_EQ(seen.size(), 6U);
  EXPECT_EQ(combination_text(sweep.keys, 5), "sheet.thickness 1 mm, mould.friction 0, forming.stage[2].pressure 3 bar");
}

TEST_F(Vary, ARangeHasBothEndsAndEvenSteps) {
  const ParsedSweep sweep = parse(vary("sheet.temperature", "from = \"120 °C\"\nto = \"413.15 K\"\ncount = 5"));
  ASSERT_EQ(sweep.keys[0].values.size(), 5U);
  const double expected_C[] = {120.0, 125.0, 130.0, 135.0, 140.0};
  for (std::size_t i = 0; i < 5; ++i)  // texts have six digits
    EXPECT_NEAR(varied_number(sweep.keys[0], sweep.keys[0].values[i]), expected_C[i], 1e-3);
  EXPECT_EQ(varied_text(sweep.keys[0].values[1]), "125 °C");
  EXPECT_EQ(varied_text(sweep.keys[0].values[4]), "413.15 K") << "as written";
  const ParsedSweep whole = parse(vary("numerics.frames", "from = 10\nto = 30\ncount = 3"));
  EXPECT_EQ(varied_text(whole.keys[0].values[1]), "20");
  EXPECT_NE(refusal(vary("numerics.frames", "from = 10\nto = 11\ncount = 3")).find("10.5"), std::string::npos);
}

TEST_F(Vary, TheFileOfACombinationIsTheSameCase) {
  const ParsedSweep sweep = parse(vary("mould.friction", "values = [0, 0.3]") +
                                  vary("sheet.outline", R"(values = [{ disc = "80 mm" }, { disc = "90 mm" }])") +
                                  vary("sheet.temperature", R"(values = ["130 °C"])"));
  ASSERT_EQ(sweep.cases.size(), 4U);
  const fs::path elsewhere = folder_ / "elsewhere";
  fs::create_directories(elsewhere);
  int compared = 0;
  for (const ParsedCase& one : sweep.cases) {
    std::ofstream(elsewhere / "case.toml", std::ios::binary) << one.text;
    const ParsedCase again = parse_case(elsewhere);
    ASSERT_EQ(again.values.size(), one.values.size());
    for (std::size_t i = 0; i < one.values.size(); ++i) {
      EXPECT_EQ(again.values[i].key, one.values[i].key);
      if (one.values[i].key == "title") continue;
      if (one.values[i].key == "mould.surface") {
        EXPECT_EQ(again.values[i].value, (folder_ / "marker.stl").string());
        continue;
      }
      EXPECT_EQ(again.values[i].value, one.values[i].value) << one.values[i].key;
      ++compared;
    }
    EXPECT_NE(again.value.title.find("sheet.temperature 130 °C"), std::string::npos) << again.value.title;
  }
  EXPECT_GT(compared, 80);
}

TEST_F(Vary, NumbersAreThoseOfQuantitiesAndNumbersAlone) {
  const ParsedSweep sweep = parse(vary("mould.friction", R"(values = ["stick", 0.3])") +
                                  vary("sheet.outline", R"(values = [{ disc = "80 mm" }])"));
  EXPECT_TRUE(std::isnan(varied_number(sweep.keys[0], sweep.keys[0].values[0])));
  EXPECT_DOUBLE_EQ(varied_number(sweep.keys[0], sweep.keys[0].values[1]), 0.3);
  EXPECT_TRUE(std::isnan(varied_number(sweep.keys[1], sweep.keys[1].values[0])));
  EXPECT_EQ(varied_text(sweep.keys[1].values[0]), "{ disc = \"80 mm\" }");
}

TEST_F(Vary, ExamplesOfTheTableCanBeRead) {
  const auto example = [](const char* path) { return std::string(find_key(path)->example); };
  const std::string key = "[[vary]]\nkey = " + example("vary.key");
  EXPECT_EQ(parse(key + "\nvalues = " + example("vary.values") + "\n").cases.size(), 2U);
  const std::string range =
      "from = " + example("vary.from") + "\nto = " + example("vary.to") + "\ncount = " + example("vary.count");
  EXPECT_EQ(parse(vary("forming.stage[1].pressure", range)).cases.size(), 4U);
}

TEST_F(Vary, ARefusalNamesTheCombinationAndTheLineOfItsValue) {
  const std::string message = refusal(vary("sheet.height", R"(values = ["25 mm", "30 mm"])") +
                                      vary("sheet.thickness", R"(values = ["1 mm", "1 bar"])"));
  EXPECT_NE(message.find("case.toml:20, sheet.thickness, in case 2 of the sweep (sheet.height 25 mm, sheet.thickness 1 "
                         "bar)"),
            std::string::npos)
      << message;
}

TEST_F(Vary, OneCaseAloneIsNoSweepAndASweepIsNotOneCase) {
  EXPECT_NE(refusal("").find("no [[vary]]"), std::string::npos);
  write("case.toml", kCase + vary("sheet.height", R"(values = ["25 mm"])"));
  EXPECT_THROW(parse_case(folder_), Error);
}

/// The program's card of PETG under another name, as a file of its own.
std::string card_named_mine() {
  std::istringstream lines{std::string(kPolymerCards)};
  std::string out;
  bool is_in = false;
  for (std::string line; std::getline(lines, line);) {
    if (line.starts_with("[")) is_in = line.starts_with("[petg]") || line.starts_with("[petg.");
    if (is_in) out += (line.starts_with("[petg") ? "[mine" + line.substr(5) : line) + "\n";
  }
  return out;
}

TEST_F(Vary, CardsAndMapsOfTheCaseAreFoundFromElsewhere) {
  write("mine.toml", card_named_mine());
  write("heater.csv", "x_mm,y_mm,temperature_C\n-20,0,130\n20,0,150\n0,20,140\n");  // must exist; not read here
  const std::string map = R"(values = [{ table = "heater.csv" },
      { image = "heater.csv", black = "120 °C", white = "160 °C", width = "100 mm" }])";
  const ParsedSweep sweep =
      parse(vary("sheet.polymer", R"(values = ["petg", "mine.toml"])") + vary("sheet.temperature_map", map) +
            vary("sheet.temperature", R"(values = ["140 °C"])"));
  ASSERT_EQ(sweep.cases.size(), 4U);
  const fs::path elsewhere = folder_ / "elsewhere";
  fs::create_directories(elsewhere);
  for (std::size_t i = 0; i < 4; ++i) {
    std::ofstream(elsewhere / "case.toml", std::ios::binary) << sweep.cases[i].text;
    const ParsedCase again = parse_case(elsewhere);
    ASSERT_EQ(again.own_card.has_value(), i >= 2) << sweep.cases[i].text;
    if (again.own_card) {
      EXPECT_EQ(again.own_card->file, folder_ / "mine.toml");
      EXPECT_EQ(again.own_card->card.name, "mine");
    }
    ASSERT_TRUE(again.heater_map.has_value());
    EXPECT_EQ(again.heater_map->path, folder_ / "heater.csv");
  }
}

TEST_F(Vary, WhatNamesAFileIsMarkedInTheTable) {
  int marked = 0;
  for (const Key& key : schema()) {
    const auto shows = [&](const char* ending) { return key.example.find(ending) != std::string_view::npos; };
    const bool looks_like_a_file =
        key.kind == Kind::kText && (shows(".stl") || shows(".png") || shows(".csv") || shows(".ttf"));
    EXPECT_EQ(key.names_file, looks_like_a_file) << key.path;
    marked += key.names_file ? 1 : 0;
  }
  EXPECT_EQ(marked, 6);  // sheet.polymer names a card or a file: the test above
}

}  // namespace
}  // namespace pellicle::cases
