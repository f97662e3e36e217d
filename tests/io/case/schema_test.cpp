// The table of keys is sound: every default and every example can be read by the reader it drives.
#include "io/case/schema.h"

#include "io/case/document.h"
#include "io/case/values.h"
#include "mesh/check.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <set>

namespace pellicle::cases {
namespace {

TEST(Schema, PathsAreUniqueAndHaveTheirTable) {
  std::set<std::string_view> seen;
  for (const Key& key : schema()) {
    EXPECT_TRUE(seen.insert(key.path).second) << key.path;
    EXPECT_FALSE(key.meaning.empty()) << key.path;
    const auto dot = key.path.rfind('.');
    if (dot == std::string_view::npos) continue;
    const Key* table = find_key(key.path.substr(0, dot));
    ASSERT_NE(table, nullptr) << key.path;
    EXPECT_TRUE(table->kind == Kind::kTable || table->kind == Kind::kTables || table->kind == Kind::kPairsOrTable ||
                table->kind == Kind::kWordOrTable);
  }
  EXPECT_GT(seen.size(), 50U);
}

TEST(Schema, QuantitiesHaveARangeInAKnownUnitOfTheirDimension) {
  for (const Key& key : schema()) {
    if (key.kind != Kind::kQuantity && key.kind != Kind::kPairsOrTable) continue;
    const std::vector<std::string> units = unit_names(key.dimension);
    EXPECT_NE(std::find(units.begin(), units.end(), key.unit), units.end()) << key.path;
    EXPECT_LT(key.low, key.high) << key.path;
  }
}

TEST(Schema, WithoutAValueThereIsADefaultAWordOrARefusal) {
  for (const Key& key : schema()) EXPECT_FALSE(default_text(key).empty()) << key.path;
}

/// A file that holds one key and what is required around it would test the rest of the file too; the reader reports in
/// the order of the file, so an example that cannot be read is reported before anything that is missing.
TEST(Schema, EveryExampleCanBeRead) {
  int checked = 0;
  for (const Key& key : schema()) {
    if (key.example.empty()) continue;
    const auto dot = key.path.rfind('.');
    std::string table = dot == std::string_view::npos ? "" : std::string(key.path.substr(0, dot));
    if (table == "vary") continue;  // taken out before: vary_test reads its examples
    std::string text;
    if (table.starts_with("forming.stage")) {
      text = "[[forming.stage]]\n" + std::string(key.path.substr(14)) + " = " + std::string(key.example) + "\n";
    } else if (table.starts_with("relief")) {
      text = "[[relief]]\n" + std::string(key.path.substr(7)) + " = " + std::string(key.example) + "\n";
    } else if (table == "mould.vents") {
      text = "[[mould.vents]]\n" + std::string(leaf(key)) + " = " + std::string(key.example) + "\n";
    } else {
      text =
          (table.empty() ? "" : "[" + table + "]\n") + std::string(leaf(key)) + " = " + std::string(key.example) + "\n";
    }
    try {
      read_values(parse_document(text, "x.toml"), "x.toml");
    } catch (const Error& error) {
      const std::string message = error.what();
      EXPECT_NE(message.find("is required"), std::string::npos) << key.path << ": " << message;
      EXPECT_EQ(message.find(std::string(leaf(key)) + " is required"), std::string::npos)
          << key.path << ": " << message;
    }
    ++checked;
  }
  EXPECT_GT(checked, 60);
}

}  // namespace
}  // namespace pellicle::cases
