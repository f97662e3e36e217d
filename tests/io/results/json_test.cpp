// Is what is written JSON, whatever a person or a file system puts in?
#include "io/results/json.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

namespace pellicle::results {
namespace {

TEST(JsonText, EscapesWhatItMustAndKeepsTheRest) {
  EXPECT_EQ(json_text("Kräuter 20 °C"), "\"Kräuter 20 °C\"");
  EXPECT_EQ(json_text("a\"b\\c\n\t\x01"), "\"a\\\"b\\\\c\\n\\u0009\\u0001\"");
  EXPECT_EQ(json_text(std::string_view("\0", 1)), "\"\\u0000\"");
}

TEST(JsonText, BytesThatAreNoUtf8BecomeReplacementMarks) {
  EXPECT_EQ(json_text("\xFF"), "\"\\ufffd\"");
  EXPECT_EQ(json_text("a\xC3"), "\"a\\ufffd\"");                      // cut
  EXPECT_EQ(json_text("\xC0\xAF"), "\"\\ufffd\\ufffd\"");             // overlong
  EXPECT_EQ(json_text("\xED\xA0\x80"), "\"\\ufffd\\ufffd\\ufffd\"");  // surrogate
  EXPECT_EQ(json_text("\xF0\x9F\x8C\xBF"), "\"\xF0\x9F\x8C\xBF\"");   // a herb
}

TEST(JsonNumber, NumbersThatAreNoneAreNull) {
  EXPECT_EQ(json_number(0.1), "0.1");
  EXPECT_EQ(json_number(3.0), "3");
  EXPECT_EQ(json_number(1e-7), "1e-07");
  EXPECT_EQ(json_number(std::nan("")), "null");
  EXPECT_EQ(json_number(-std::numeric_limits<double>::infinity()), "null");
}

TEST(JsonDocument, NestsInTheOrderGiven) {
  Json json;
  json.open_object().key("b").open_list().close_list();
  json.key("a").open_list().whole(1).open_object().key("x").flag(true).close_object().null().close_list();
  json.key("p").numbers({1.0, std::nan(""), 0.5}).close_object();
  EXPECT_EQ(json.finish(),
            "{\n  \"b\": [],\n  \"a\": [\n    1,\n    {\n      \"x\": true\n    },\n    null\n  ],\n"
            "  \"p\": [1, null, 0.5]\n}\n");
}

}  // namespace
}  // namespace pellicle::results
