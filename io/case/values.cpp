// Which values does a case file give, each checked against the table of keys?
#include "io/case/values.h"

#include "io/case/spelling.h"
#include "mesh/check.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace pellicle::cases {
namespace {

std::string join(std::string_view table, std::string_view key) {
  return table.empty() ? std::string(key) : fmt::format("{}.{}", table, key);
}

/// The tables that only a forming run needs.
bool is_of_forming(const Key& key) {
  return key.path == "sheet" || key.path == "forming" || key.path == "forming.stage";
}

bool is_pairs(const Key& key) { return key.kind == Kind::kPairs || key.kind == Kind::kPairsOrTable; }

/// Walks the file beside the table of keys. `rows` is the path in the table of keys, `path` the path of the instance.
class Reader {
 public:
  Reader(Values& values, Purpose purpose) : values_(values), purpose_(purpose) {}

  void read_table(const Node& table, const std::string& rows, const std::string& path) {
    for (std::size_t i = 0; i < table.items.size(); ++i) {
      const Key* key = find_key(join(rows, table.keys[i]));
      if (key == nullptr) refuse_unknown(table.keys[i], table.key_lines[i], rows, path);
      read_item(*key, table.items[i], join(path, table.keys[i]), table.key_lines[i]);
    }
    for (const Key* key : keys_inside(rows)) {
      if (table.find(leaf(*key)) == nullptr) supply(*key, join(path, leaf(*key)), table.line);
    }
  }

 private:
  [[noreturn]] void refuse(int line, std::string_view path, std::string found, std::string allowed,
                           std::string advice) const {
    throw Error({.kind = Fault::Kind::kCase,
                 .where = values_.where(line, path),
                 .found = std::move(found),
                 .allowed = std::move(allowed),
                 .advice = std::move(advice)});
  }

  [[noreturn]] void refuse_unknown(const std::string& name, int line, const std::string& rows,
                                   const std::string& path) const {
    std::vector<std::string> names;
    std::string allowed;
    for (const Key* key : keys_inside(rows)) {
      names.emplace_back(leaf(*key));
      allowed += (allowed.empty() ? "" : ", ") + names.back();
    }
    std::string advice;
    if (const auto near = nearest_word(name, names)) {
      advice = fmt::format("Did you mean {}?", *near);
    } else {
      for (const Key& key : schema()) {
        if (leaf(key) == name) advice = fmt::format("There is {}: write it in that table", key.path);
      }
    }
    refuse(line, path.empty() ? std::string_view("top level") : std::string_view(path),
           "the unknown key " + in_quotes(name), allowed, advice);
  }

  [[noreturn]] void refuse_type(const Key& key, const Node& node, const std::string& path, int line) const {
    std::string advice;
    if (!key.example.empty()) advice = fmt::format("Write for example {} = {}", leaf(key), key.example);
    if (key.kind == Kind::kTables && node.kind == Node::Kind::kTable) {
      advice = fmt::format("Write [[{}]] with two brackets on each side", key.path);
    }
    std::string found = describe(node);
    if (key.dimension != Dimension::kNone && node.kind == Node::Kind::kNumber) found += " without a unit";
    refuse(line, path, found, allowed_text(key), advice);
  }

  void read_item(const Key& key, const Node& node, const std::string& path, int line) {
    const bool is_table = key.kind == Kind::kTable || key.kind == Kind::kPairsOrTable || key.kind == Kind::kWordOrTable;
    if (is_table && node.kind == Node::Kind::kTable) {
      values_.put_table(path, line);
      read_table(node, std::string(key.path), path);
    } else if (key.kind == Kind::kTable) {
      refuse_type(key, node, path, line);
    } else if (key.kind == Kind::kTables) {
      read_tables(key, node, path, line);
    } else {
      values_.put(path, read_value(key, node, path, line));
    }
  }

  void read_tables(const Key& key, const Node& node, const std::string& path, int line) {
    const bool is_list = node.kind == Node::Kind::kArray &&
                         std::all_of(node.items.begin(), node.items.end(),
                                     [](const Node& item) { return item.kind == Node::Kind::kTable; });
    if (!is_list) refuse_type(key, node, path, line);
    values_.put_count(path, static_cast<int>(node.items.size()));
    for (std::size_t i = 0; i < node.items.size(); ++i) {
      const std::string instance = fmt::format("{}[{}]", path, i + 1);
      values_.put_table(instance, node.items[i].line);
      read_table(node.items[i], std::string(key.path), instance);
    }
  }

  Value read_value(const Key& key, const Node& node, const std::string& path, int line) const {
    Value value;
    value.key = &key;
    value.line = line;
    if (is_pairs(key)) {
      if (node.kind != Node::Kind::kArray) refuse_type(key, node, path, line);
      for (const Node& pair : node.items) {
        if (pair.kind != Node::Kind::kArray || pair.items.size() != 2) {
          refuse(pair.line > 0 ? pair.line : line, path, describe(pair) + " as a point", "a list of 2 lengths",
                 fmt::format("Write for example {} = {}", leaf(key), key.example));
        }
        for (const Node& item : pair.items) read_single(key, Kind::kQuantity, item, path, line, value);
      }
    } else if (key.count == 0) {
      read_single(key, key.kind, node, path, line, value);
    } else {
      const bool fits = node.kind == Node::Kind::kArray && !node.items.empty() &&
                        (key.count == kAnyCount || node.items.size() == static_cast<std::size_t>(key.count));
      if (!fits) refuse_type(key, node, path, line);
      for (const Node& item : node.items) read_single(key, key.kind, item, path, line, value);
    }
    return value;
  }

  /// One number, word or text. `line` is the key's; an item of a list over several lines is named by its own.
  void read_single(const Key& key, Kind kind, const Node& node, const std::string& path, int line, Value& value) const {
    const int at = node.line > 0 ? node.line : line;
    switch (kind) {
      case Kind::kText:
      case Kind::kLines:
        return read_text(key, node, path, at, value);
      case Kind::kWord:
      case Kind::kWordOrTable:
        return read_word(key, node, path, at, value);
      case Kind::kFlag:
        if (node.kind != Node::Kind::kFlag) refuse_type(key, node, path, at);
        value.flag = node.flag;
        return;
      case Kind::kQuantity:
        return read_quantity(key, node, path, at, value);
      case Kind::kWhole:
      case Kind::kNumber:
        if (node.kind == Node::Kind::kText && !key.words.empty()) return read_word(key, node, path, at, value);
        if (node.kind != Node::Kind::kNumber) refuse_type(key, node, path, at);
        check_number(key, kind, node.number, path, at);
        value.numbers.push_back(node.number);
        return;
      case Kind::kTable:
      case Kind::kTables:
      case Kind::kPairs:
      case Kind::kPairsOrTable:
      case Kind::kAny:
        ensure(false, "tables and what is varied are read elsewhere");
    }
  }

  void read_text(const Key& key, const Node& node, const std::string& path, int line, Value& value) const {
    const bool is_blank = node.text.find_first_not_of(" \t\r\n") == std::string::npos;
    if (node.kind != Node::Kind::kText || is_blank) refuse_type(key, node, path, line);
    const bool may_break = key.kind == Kind::kLines;
    const bool has_control = std::any_of(node.text.begin(), node.text.end(), [&](char c) {
      return (static_cast<unsigned char>(c) < 0x20U && !(may_break && c == '\n')) || c == 0x7F;
    });
    if (has_control) {
      refuse(line, path, describe(node),
             may_break ? "a text without control characters but line breaks"
                       : "a text of one line without control characters",
             "");
    }
    value.text = node.text;
  }

  void read_word(const Key& key, const Node& node, const std::string& path, int line, Value& value) const {
    if (node.kind != Node::Kind::kText) refuse_type(key, node, path, line);
    const std::vector<std::string> words = words_of(key);
    if (std::find(words.begin(), words.end(), node.text) == words.end()) {
      const auto near = nearest_word(node.text, words);
      refuse(line, path, in_quotes(node.text), allowed_text(key), near ? fmt::format("Did you mean {}?", *near) : "");
    }
    value.text = node.text;
  }

  void check_number(const Key& key, Kind kind, double number, const std::string& path, int line) const {
    const bool is_fine = std::isfinite(number) && number >= key.low && number <= key.high &&
                         (kind != Kind::kWhole || number == std::floor(number));
    if (!is_fine) {
      refuse(line, path, fmt::format("{:.10g}", number), allowed_text(key),
             fmt::format("{}: {}", leaf(key), key.meaning));
    }
  }

  void read_quantity(const Key& key, const Node& node, const std::string& path, int line, Value& value) const {
    if (node.kind != Node::Kind::kText) refuse_type(key, node, path, line);
    const std::variant<double, Refusal> reading = parse_quantity(node.text, key.dimension);
    if (const auto* refusal = std::get_if<Refusal>(&reading)) {
      std::string advice = refusal->advice;
      if (advice.empty() && !key.example.empty())
        advice = fmt::format("Write for example {} = {}", leaf(key), key.example);
      refuse(line, path, refusal->found, refusal->allowed, advice);
    }
    const double value_SI = std::get<double>(reading);
    const double low_SI = to_SI(key.low, key.unit), high_SI = to_SI(key.high, key.unit);
    // An end of the range belongs to it also when it was written in another unit and rounded on the way.
    const double slack_SI = 1e-12 * (high_SI - low_SI);
    if (value_SI < low_SI - slack_SI || value_SI > high_SI + slack_SI) {
      refuse(line, path, in_quotes(node.text), allowed_text(key), fmt::format("{}: {}", leaf(key), key.meaning));
    }
    value.numbers.push_back(value_SI);
  }

  /// What holds for a key that the file leaves out.
  void supply(const Key& key, const std::string& path, int table_line) {
    if (key.required) {
      if (purpose_ == Purpose::kReliefsAlone && is_of_forming(key)) return;
      const bool is_table = key.kind == Kind::kTable || key.kind == Kind::kTables;
      refuse(
          table_line, path, is_table ? fmt::format("no {}", leaf(key)) : "nothing", allowed_text(key),
          fmt::format("{} is required: {}{}", leaf(key), key.meaning,
                      key.example.empty() ? "" : fmt::format(". Write for example {} = {}", leaf(key), key.example)));
    }
    if (key.fallback.empty()) return;
    const Node literal = parse_document(fmt::format("x = {}", key.fallback), "default of " + path);
    if (key.kind == Kind::kTable) {
      Node empty;
      read_table(empty, std::string(key.path), path);
      return;
    }
    Value value = read_value(key, *literal.find("x"), path, 0);
    value.origin = Origin::kDefault;
    value.line = 0;
    values_.put(path, std::move(value));
  }

  Values& values_;
  Purpose purpose_;
};

/// Line breaks as they are written in TOML: a table of values has one line for each.
std::string on_one_line(const std::string& text) {
  std::string out;
  for (const char c : text) out += c == '\n' ? std::string("\\n") : std::string(1, c);
  return out;
}

}  // namespace

std::string value_text(const Value& value) {
  if (value.key->kind == Kind::kFlag) return value.flag ? "true" : "false";
  if (value.numbers.empty()) return on_one_line(value.text);
  const std::string_view unit = value.key->unit;
  if (value.numbers.size() == 1 && value.key->count == 0) return format_in(value.number(), unit);
  const bool pairs = is_pairs(*value.key);
  std::string text;
  for (std::size_t i = 0; i < value.numbers.size(); ++i) {
    const bool opens = pairs && i % 2 == 0, closes = pairs && i % 2 == 1;
    text += fmt::format("{}{}{}{}", i == 0 ? "" : ", ", opens ? "[" : "", format_in(value.numbers[i], unit),
                        closes ? "]" : "");
  }
  return "[" + text + "]";
}

const Value* Values::find(const std::string& path) const {
  const auto it = values_.find(path);
  return it == values_.end() ? nullptr : &it->second;
}

const PolymerCard* Values::polymer() const {
  const Value* named = find("sheet.polymer");
  if (named == nullptr) return nullptr;
  return own_card ? &*own_card : find_polymer(named->text);
}

const Value& Values::at(const std::string& path) const {
  const Value* value = find(path);
  ensure(value != nullptr, "a required key was read or has a default");
  return *value;
}

int Values::table_line(const std::string& path) const {
  const auto it = tables_.find(path);
  return it == tables_.end() ? 0 : it->second;
}

int Values::count(const std::string& path) const {
  const auto it = counts_.find(path);
  return it == counts_.end() ? 0 : it->second;
}

void Values::put(const std::string& path, Value value) { values_.insert_or_assign(path, std::move(value)); }

std::vector<ResolvedValue> Values::resolved() const {
  std::vector<ResolvedValue> out;
  const auto add = [&](const std::string& path) {
    if (const Value* v = find(path)) out.push_back({path, value_text(*v), v->origin, v->line, v->note});
  };
  std::string list;  // the list of tables we are in
  for (const Key& key : schema()) {
    if (!list.empty() && key.path.starts_with(list)) continue;
    list.clear();
    if (key.kind != Kind::kTables) {
      add(std::string(key.path));
      continue;
    }
    list = std::string(key.path) + '.';
    for (int i = 1; i <= count(std::string(key.path)); ++i) {
      for (const Key& inner : schema()) {
        if (inner.path.starts_with(list)) add(fmt::format("{}[{}].{}", key.path, i, inner.path.substr(list.size())));
      }
    }
  }
  return out;
}

std::string Values::where(int line, std::string_view path) const {
  return line > 0 ? fmt::format("{}:{}, {}", file_name_, line, path) : fmt::format("{}, {}", file_name_, path);
}

std::string Values::where(const std::string& path) const {
  const Value* value = find(path);
  return where(value != nullptr ? value->line : table_line(path), path);
}

void Values::refuse(const std::string& path, std::string found, std::string allowed, std::string advice) const {
  throw Error({.kind = Fault::Kind::kCase,
               .where = where(path),
               .found = std::move(found),
               .allowed = std::move(allowed),
               .advice = std::move(advice)});
}

Values read_values(const Node& root, const std::string& file_name, Purpose purpose) {
  Values values(file_name);
  Reader(values, purpose).read_table(root, "", "");
  return values;
}

}  // namespace pellicle::cases
