// What does a TOML file say, and on which line? A plain tree in the order of the file, so that one .cpp knows toml++.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace pellicle::cases {

/// One value of the file. Tables keep the order in which a person wrote them.
struct Node {
  enum class Kind { kTable, kArray, kText, kNumber, kFlag, kDate };
  Kind kind = Kind::kTable;
  int line = 0;                   ///< of the value; of the header for a [table]; 0 if the file never names it
  std::string text;               ///< kText
  double number = 0.0;            ///< kNumber, written 1 or 1.0
  bool flag = false;              ///< kFlag
  std::vector<std::string> keys;  ///< kTable: names of the items
  std::vector<int> key_lines;     ///< kTable: where they stand
  std::vector<Node> items;        ///< kTable, kArray

  const Node* find(std::string_view key) const;
};

/// "a number (3)", "a text (\"x\")": what a person wrote, for a message.
std::string describe(const Node& node);
/// In double quotes, on one line: control characters escaped, cut after 60 characters.
std::string in_quotes(std::string_view text);

/// Throws Error (case) naming file:line:column if the text is not TOML.
Node parse_document(std::string_view text, const std::string& name);

}  // namespace pellicle::cases
