// What does a TOML file say, and on which line? The only file that includes toml++.
#include "io/case/document.h"

#include "mesh/check.h"

#include <fmt/format.h>
#include <toml++/toml.h>

#include <algorithm>

namespace pellicle::cases {
namespace {

int line_of(const toml::source_region& region) { return static_cast<int>(region.begin.line); }

Node convert(const toml::node& source);

Node convert_table(const toml::table& table) {
  struct Item {
    toml::source_position at;
    const toml::key* key;
    const toml::node* value;
  };
  std::vector<Item> items;
  for (auto it = table.begin(); it != table.end(); ++it) {
    items.push_back({it->first.source().begin, &it->first, &it->second});
  }
  std::sort(items.begin(), items.end(),
            [](const Item& a, const Item& b) { return a.at < b.at; });  // toml++ sorts by name
  Node node;
  node.kind = Node::Kind::kTable;
  for (const Item& item : items) {
    node.keys.emplace_back(item.key->str());
    node.key_lines.push_back(static_cast<int>(item.at.line));
    node.items.push_back(convert(*item.value));
  }
  return node;
}

Node convert(const toml::node& source) {
  Node node;
  if (const auto* table = source.as_table()) {
    node = convert_table(*table);
  } else if (const auto* array = source.as_array()) {
    node.kind = Node::Kind::kArray;
    for (const toml::node& item : *array) node.items.push_back(convert(item));
  } else if (const auto* text = source.as_string()) {
    node.kind = Node::Kind::kText;
    node.text = text->get();
  } else if (const auto* whole = source.as_integer()) {
    node.kind = Node::Kind::kNumber;
    node.number = static_cast<double>(whole->get());
  } else if (const auto* number = source.as_floating_point()) {
    node.kind = Node::Kind::kNumber;
    node.number = number->get();
  } else if (const auto* flag = source.as_boolean()) {
    node.kind = Node::Kind::kFlag;
    node.flag = flag->get();
  } else {
    node.kind = Node::Kind::kDate;
  }
  node.line = line_of(source.source());
  return node;
}

}  // namespace

const Node* Node::find(std::string_view key) const {
  const auto it = std::find(keys.begin(), keys.end(), key);
  return it == keys.end() ? nullptr : &items[static_cast<std::size_t>(it - keys.begin())];
}

std::string in_quotes(std::string_view text) {
  constexpr std::size_t kMostShown = 60;
  std::string out = "\"";
  std::size_t shown = 0;
  for (const char c : text) {
    const bool starts_character = (static_cast<unsigned char>(c) & 0xC0U) != 0x80U;  // never cut inside UTF-8
    if (shown >= kMostShown && starts_character) {
      out += "...";
      break;
    }
    if (c == '"' || c == '\\') {
      out += '\\';
      out += c;
    } else if (static_cast<unsigned char>(c) < 0x20U || c == 0x7F) {
      out += fmt::format("\\x{:02X}", static_cast<unsigned>(static_cast<unsigned char>(c)));
    } else {
      out += c;
    }
    ++shown;
  }
  return out + '"';
}

std::string describe(const Node& node) {
  switch (node.kind) {
    case Node::Kind::kTable:
      return "a table";
    case Node::Kind::kArray:
      return fmt::format("a list of {}", node.items.size());
    case Node::Kind::kText:
      return "the text " + in_quotes(node.text);
    case Node::Kind::kNumber:
      return fmt::format("the number {:.10g}", node.number);
    case Node::Kind::kFlag:
      return node.flag ? "true" : "false";
    case Node::Kind::kDate:
      break;
  }
  return "a date or time";
}

Node parse_document(std::string_view text, const std::string& name) {
  try {
    Node root = convert(toml::parse(text, name));
    root.line = 0;
    return root;
  } catch (const toml::parse_error& error) {
    std::string found(error.description());
    std::replace_if(
        found.begin(), found.end(), [](char c) { return static_cast<unsigned char>(c) < 0x20U; }, ' ');
    const toml::source_position at = error.source().begin;
    throw Error({.kind = Fault::Kind::kCase,
                 .where = fmt::format("{}:{}:{}", name, at.line, at.column),
                 .found = "text that is not TOML (" + found + ")",
                 .allowed = "lines such as thickness = \"0.75 mm\" below a [table]",
                 .advice = "Look for a missing quote, bracket or comma at this place or just before it"});
  }
}

}  // namespace pellicle::cases
