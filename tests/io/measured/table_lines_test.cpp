// Does each line of a table come with its own number, whatever stands between?
#include "io/measured/table_lines.h"

#include <gtest/gtest.h>

#include <utility>

namespace pellicle::measured {
namespace {

TEST(TableLines, NumbersAreThoseOfTheFile) {
  const std::string text = "\xEF\xBB\xBF# made by hand\r\n\r\na , b\n \t\n  # between\n 1,2 \r\n3,4";
  TableLines lines(text);
  EXPECT_EQ(lines.place("t.csv"), "t.csv");
  int seen = 0;
  for (const auto& [line, place] :
       {std::pair{"a , b", "t.csv:3"}, std::pair{"1,2", "t.csv:6"}, std::pair{"3,4", "t.csv:7"}}) {
    const auto next = lines.next();
    ASSERT_TRUE(next);
    EXPECT_EQ(*next, line);
    EXPECT_EQ(lines.place("t.csv"), place);
    ++seen;
  }
  EXPECT_EQ(seen, 3);
  EXPECT_FALSE(lines.next());
  EXPECT_EQ(lines.place("t.csv"), "t.csv:7");
}

TEST(TableLines, TextsWithoutALineGiveNone) {
  for (const char* text : {"", "\n\n", "# nothing here", "\xEF\xBB\xBF"}) {
    TableLines lines(text);
    EXPECT_FALSE(lines.next()) << text;
    EXPECT_EQ(lines.place("t.csv"), "t.csv") << text;
  }
}

TEST(TableLines, CellsKeepTheirPlaceWhenEmpty) {
  using Cells = std::vector<std::string_view>;
  EXPECT_EQ(cells_of(" a ,b,, c d\t"), (Cells{"a", "b", "", "c d"}));
  EXPECT_EQ(cells_of("1,"), (Cells{"1", ""}));
}

}  // namespace
}  // namespace pellicle::measured
