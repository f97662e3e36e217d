// How is a tree of values written as a TOML file?
#include "io/case/document_text.h"

#include "mesh/check.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace pellicle::cases {
namespace {

std::string text_toml(std::string_view text) {
  std::string out = "\"";
  for (const char c : text) {
    if (c == '"' || c == '\\')
      out += fmt::format("\\{}", c);
    else if (static_cast<unsigned char>(c) < 0x20U || c == 0x7F)
      out += fmt::format("\\u{:04X}", static_cast<unsigned>(static_cast<unsigned char>(c)));
    else
      out += c;
  }
  return out + '"';
}

std::string key_toml(const std::string& key) {
  const bool is_bare = !key.empty() && std::all_of(key.begin(), key.end(), [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_' || c == '-';
  });
  return is_bare ? key : text_toml(key);
}

std::string number_toml(double number) {
  if (std::isnan(number)) return "nan";
  if (std::isinf(number)) return number > 0.0 ? "inf" : "-inf";
  return fmt::format("{}", number);  // the shortest text that reads back the same
}

bool is_table(const Node& node) { return node.kind == Node::Kind::kTable; }

bool is_list_of_tables(const Node& node) {
  return node.kind == Node::Kind::kArray && !node.items.empty() &&
         std::all_of(node.items.begin(), node.items.end(), is_table);
}

/// A table of a few plain values reads better on one line.
bool fits_a_line(const Node& table) {
  constexpr std::size_t kMost = 4;
  return table.items.size() <= kMost && std::none_of(table.items.begin(), table.items.end(), [](const Node& item) {
           return is_table(item) || is_list_of_tables(item);
         });
}

void write_table(const Node& table, const std::string& path, const std::string& header, std::string& out) {
  const auto has_section = [&](const Node& item) {
    return is_list_of_tables(item) || (is_table(item) && (path.empty() || !fits_a_line(item)));
  };
  const bool all_sections = !table.items.empty() && std::all_of(table.items.begin(), table.items.end(), has_section);
  if (!header.empty() && (!all_sections || header.starts_with("[["))) out += "\n" + header + "\n";
  for (std::size_t i = 0; i < table.items.size(); ++i)
    if (!has_section(table.items[i]))
      out += fmt::format("{} = {}\n", key_toml(table.keys[i]), value_toml(table.items[i]));
  for (std::size_t i = 0; i < table.items.size(); ++i) {
    const Node& item = table.items[i];
    if (!has_section(item)) continue;
    const std::string inner = path.empty() ? key_toml(table.keys[i]) : path + "." + key_toml(table.keys[i]);
    if (is_table(item)) write_table(item, inner, fmt::format("[{}]", inner), out);
    if (is_list_of_tables(item))
      for (const Node& one : item.items) write_table(one, inner, fmt::format("[[{}]]", inner), out);
  }
}

}  // namespace

std::string value_toml(const Node& value) {
  std::string inside;
  switch (value.kind) {
    case Node::Kind::kText:
      return text_toml(value.text);
    case Node::Kind::kNumber:
      return number_toml(value.number);
    case Node::Kind::kFlag:
      return value.flag ? "true" : "false";
    case Node::Kind::kArray:
      for (const Node& item : value.items) inside += (inside.empty() ? "" : ", ") + value_toml(item);
      return "[" + inside + "]";
    case Node::Kind::kTable:
      for (std::size_t i = 0; i < value.items.size(); ++i)
        inside += fmt::format("{}{} = {}", i == 0 ? "" : ", ", key_toml(value.keys[i]), value_toml(value.items[i]));
      return inside.empty() ? "{}" : "{ " + inside + " }";
    case Node::Kind::kDate:
      break;
  }
  ensure(false, "no key of a case takes a date");
  return "";
}

std::string document_toml(const Node& root) {
  std::string out;
  write_table(root, "", "", out);
  return out;
}

}  // namespace pellicle::cases
