// Does a written document say what the tree said? Written, read back and compared; and a few texts as they must be.
#include "io/case/document_text.h"

#include <gtest/gtest.h>

namespace pellicle::cases {
namespace {

/// Same tree but for lines; tables may hold their keys in another order, for TOML wants simple ones first.
void expect_same(const Node& a, const Node& b, const std::string& at, int& compared) {
  ++compared;
  ASSERT_EQ(a.kind, b.kind) << at;
  EXPECT_EQ(a.text, b.text) << at;
  EXPECT_EQ(a.number, b.number) << at;  // to the bit: the shortest text that reads back the same
  EXPECT_EQ(a.flag, b.flag) << at;
  ASSERT_EQ(a.items.size(), b.items.size()) << at;
  for (std::size_t i = 0; i < a.items.size(); ++i) {
    const Node* other = a.kind == Node::Kind::kTable ? b.find(a.keys[i]) : &b.items[i];
    ASSERT_NE(other, nullptr) << at << "." << a.keys[i];
    expect_same(a.items[i], *other, at + "." + std::to_string(i), compared);
  }
}

constexpr const char* kText = R"(
title = "Basil \"mint\" \\ thyme\t\u0001 °C"
empty = {}
[sheet]
outline = { disc = "40 mm" }
law.kind = "ogden"
law.terms = [[0.1, -2], [1e-7, 3.5]]
[sheet.deep.inside]
a = { b = { c = 0.1 } }
[mould]
vents = [{ at = ["0 mm", "1 mm"] }, {}]
"a key" = true
[[forming.stage]]
name = "one"
gas = { supply = "4 bar", inner = { x = 1 } }
[[forming.stage]]
[[relief]]
source = { text = """two
lines""", a = 1, b = 2, c = 3, d = 4 }
mixed = [1, "x", [true, {y = 2}]]
numbers = [0.1, 1, 1e300, 123456789, 0.30000000000000004]
)";

TEST(DocumentText, ReadsBackTheSame) {
  const Node tree = parse_document(kText, "text");
  const std::string written = document_toml(tree);
  int compared = 0;
  expect_same(tree, parse_document(written, "written"), "", compared);
  EXPECT_GT(compared, 40) << written;
  // And once it is in order, not a byte changes.
  EXPECT_EQ(document_toml(parse_document(written, "written")), written);
}

TEST(DocumentText, LooksLikeAPersonsFile) {
  const Node tree = parse_document("[a]\nb = 1\nc = { d = 'x' }\n[[a.e]]\nf = 2.5\n", "text");
  EXPECT_EQ(document_toml(tree), "\n[a]\nb = 1\nc = { d = \"x\" }\n\n[[a.e]]\nf = 2.5\n");
}

}  // namespace
}  // namespace pellicle::cases
