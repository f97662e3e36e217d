// TOML becomes a tree in the order of the file, with lines; slips of spelling are recognised.
#include "io/case/document.h"

#include "io/case/spelling.h"
#include "mesh/check.h"

#include <gtest/gtest.h>

namespace pellicle::cases {
namespace {

TEST(Document, KeepsOrderAndLines) {
  const Node root = parse_document("zeta = 1\nalpha = 2.5\n[table]\nkey = \"text\"\nlist = [1,\n 2.0]\n", "case.toml");
  ASSERT_EQ(root.keys, (std::vector<std::string>{"zeta", "alpha", "table"}));
  EXPECT_EQ(root.key_lines, (std::vector<int>{1, 2, 3}));
  EXPECT_EQ(root.find("zeta")->number, 1.0);
  EXPECT_EQ(root.find("alpha")->number, 2.5);
  const Node& table = *root.find("table");
  EXPECT_EQ(table.find("key")->text, "text");
  EXPECT_EQ(table.find("list")->items[1].number, 2.0);
  EXPECT_EQ(table.find("list")->items[1].line, 6);
  EXPECT_EQ(table.find("none"), nullptr);
}

TEST(Document, ListsOfTablesKnowTheirLines) {
  const Node root = parse_document("[[forming.stage]]\nname = \"a\"\n\n[[forming.stage]]\nname = \"b\"\n", "case.toml");
  const Node& stages = *root.find("forming")->find("stage");
  ASSERT_EQ(stages.items.size(), 2U);
  EXPECT_EQ(stages.items[1].line, 4);
}

TEST(Document, WindowsLineEndsAndByteOrderMarkAreFine) {
  const Node root = parse_document("\xEF\xBB\xBFtitle = \"a\"\r\n[sheet]\r\n", "case.toml");
  EXPECT_EQ(root.find("title")->text, "a");
}

TEST(Document, WhatIsNotTomlNamesLineAndColumn) {
  int refused = 0;
  for (const char* text : {"a = 1\nb = \n", "a = 1\n[", "x = \"open", "= 1", "a = 1\na = 2\n", "\xFF\xFE", "a = 1e"}) {
    try {
      parse_document(text, "case.toml");
      ADD_FAILURE() << text;
    } catch (const Error& error) {
      EXPECT_EQ(error.exit_code(), 2);
      EXPECT_TRUE(error.fault().where.starts_with("case.toml:")) << error.what();
      EXPECT_EQ(std::string(error.what()).find('\n'), std::string::npos);
      ++refused;
    }
  }
  EXPECT_EQ(refused, 7);
}

TEST(Document, QuotesStayOnOneLineAndShort) {
  EXPECT_EQ(in_quotes("a\nb\"c"), "\"a\\x0Ab\\\"c\"");
  EXPECT_LT(in_quotes(std::string(1000, 'x')).size(), 80U);
}

TEST(Spelling, CountsEdits) {
  EXPECT_EQ(edit_distance("thickness", "thickness"), 0);
  EXPECT_EQ(edit_distance("thicknes", "thickness"), 1);
  EXPECT_EQ(edit_distance("hieght", "height"), 1);  // neighbours swapped
  EXPECT_EQ(edit_distance("HEIGHT", "height"), 0);
  EXPECT_EQ(edit_distance("", "abc"), 3);
  EXPECT_EQ(edit_distance("kitten", "sitting"), 3);
}

TEST(Spelling, OffersOnlyWhatIsNear) {
  const std::vector<std::string> known{"thickness", "height", "element"};
  EXPECT_EQ(nearest_word("thikness", known), "thickness");
  EXPECT_EQ(nearest_word("elment", known), "element");
  EXPECT_EQ(nearest_word("colour", known), std::nullopt);
  EXPECT_EQ(nearest_word("", known), std::nullopt);
  EXPECT_EQ(nearest_word(std::string(5000, 'e'), known), std::nullopt);
}

}  // namespace
}  // namespace pellicle::cases
