// Is JSON read as it was written, and refused where it is cut short?
#include "io/results/json_value.h"

#include "io/results/json.h"

#include <gtest/gtest.h>

namespace pellicle::results {
namespace {

using Kind = JsonValue::Kind;

std::string sample() {
  Json json;
  json.open_object().key("format").text("pellicle \"summary\"\n\x01 caf\xC3\xA9 \\");
  json.key("findings").open_list().open_object().key("value").number(-1.25e-3).key("place").numbers({1.0, 2.5, -3.0});
  json.close_object().open_object().close_object().close_list();
  json.key("none").null().key("yes").flag(true).key("no").flag(false).key("whole").whole(-7).close_object();
  return json.finish();
}

TEST(JsonValue, ReadsWhatJsonWrites) {
  const auto value = read_json(sample());
  ASSERT_TRUE(value);
  EXPECT_EQ(value->find("format", Kind::kText)->text, "pellicle \"summary\"\n\x01 caf\xC3\xA9 \\");
  const JsonValue* findings = value->find("findings", Kind::kList);
  ASSERT_NE(findings, nullptr);
  ASSERT_EQ(findings->values.size(), 2U);
  EXPECT_EQ(findings->values[0].find("value", Kind::kNumber)->number, -1.25e-3);
  EXPECT_EQ(findings->values[0].find("place", Kind::kList)->values[2].number, -3.0);
  EXPECT_TRUE(findings->values[1].names.empty());
  EXPECT_NE(value->find("none", Kind::kNull), nullptr);
  EXPECT_TRUE(value->find("yes", Kind::kFlag)->flag);
  EXPECT_FALSE(value->find("no", Kind::kFlag)->flag);
  EXPECT_EQ(value->find("whole", Kind::kNumber)->number, -7.0);
  EXPECT_EQ(value->find("whole", Kind::kText), nullptr);
  EXPECT_EQ(value->find("missing", Kind::kNull), nullptr);
}

TEST(JsonValue, RefusesEveryTextThatIsCutShort) {
  const std::string whole = sample();
  for (std::size_t length = 0; length + 1 < whole.size(); ++length)  // the last byte is a line break
    EXPECT_FALSE(read_json(whole.substr(0, length))) << length;
}

TEST(JsonValue, RefusesWhatIsNoJson) {
  for (const char* text : {"", "nul", "{\"a\" 1}", "[1,]", "[1 2]", "{1: 2}", "\"a", "\"\\x\"", "\"\\u12\"", "nan",
                           "inf", "+1", "[1] 2", "\"a\nb\"", "{\"a\": 1,}"})
    EXPECT_FALSE(read_json(text)) << text;
  EXPECT_FALSE(read_json(std::string(1000000, '[')));  // deep: refused, not the end of the stack
}

}  // namespace
}  // namespace pellicle::results
