// Which cases does a case with [[vary]] stand for?
#include "io/case/vary.h"

#include "io/case/document_text.h"
#include "io/case/own_card.h"
#include "io/case/spelling.h"
#include "mesh/check.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <limits>
#include <optional>
#include <tuple>
#include <utility>

namespace pellicle::cases {
namespace {

namespace fs = std::filesystem;

/// One word of a path: "stage[2]".
struct Step {
  std::string name;
  int number = 0;  ///< of a table in a list, from 1; 0: none given
};

/// Nullopt for what is no path.
std::optional<std::vector<Step>> steps_of(std::string_view path) {
  std::vector<Step> steps;
  while (true) {
    const std::size_t end = std::min(path.find('.'), path.size());
    std::string_view word = path.substr(0, end);
    Step step;
    if (word.ends_with(']')) {
      const std::size_t open = word.find('[');
      if (open == std::string_view::npos) return std::nullopt;
      const char* const last = word.data() + word.size() - 1;
      const auto read = std::from_chars(word.data() + open + 1, last, step.number);
      if (read.ec != std::errc() || read.ptr != last || step.number < 1) return std::nullopt;
      word = word.substr(0, open);
    }
    if (word.empty()) return std::nullopt;
    step.name = word;
    steps.push_back(std::move(step));
    if (end == path.size()) return steps;
    path.remove_prefix(end + 1);
  }
}

std::string row_path(const std::vector<Step>& steps) {
  std::string path;
  for (const Step& step : steps) path += (path.empty() ? "" : ".") + step.name;
  return path;
}

/// Reads the tables one after the other.
class VaryReader {
 public:
  explicit VaryReader(const std::string& file_name) : file_name_(file_name) {}

  std::vector<VariedKey> read(const Node& tables, int line) {
    if (tables.kind != Node::Kind::kArray || tables.items.empty()) {
      refuse(line, "vary", describe(tables), allowed_text(*find_key("vary")),
             "Write [[vary]] with two brackets on each side");
    }
    for (const Node& table : tables.items) {
      table_ = fmt::format("vary[{}]", keys_.size() + 1);
      if (table.kind != Node::Kind::kTable)
        refuse(line, table_, describe(table), "a table", "Write [[vary]] with two brackets on each side");
      read_table(table);
    }
    return std::move(keys_);
  }

 private:
  [[noreturn]] void refuse(int line, const std::string& where, std::string found, std::string allowed,
                           std::string advice = {}) const {
    throw Error({.kind = Fault::Kind::kCase,
                 .where = line > 0 ? fmt::format("{}:{}, {}", file_name_, line, where)
                                   : fmt::format("{}, {}", file_name_, where),
                 .found = std::move(found),
                 .allowed = std::move(allowed),
                 .advice = std::move(advice)});
  }

  /// The row of a key of [[vary]] for messages.
  std::string allowed(std::string_view leaf) const { return allowed_text(*find_key(fmt::format("vary.{}", leaf))); }
  std::string at(std::string_view leaf) const { return fmt::format("{}.{}", table_, leaf); }

  void read_table(const Node& table) {
    std::vector<std::string> names;
    for (const Key* key : keys_inside("vary")) names.emplace_back(leaf(*key));
    for (std::size_t i = 0; i < table.keys.size(); ++i) {
      if (std::find(names.begin(), names.end(), table.keys[i]) != names.end()) continue;
      const auto near = nearest_word(table.keys[i], names);
      refuse(table.key_lines[i], table_, "the unknown key " + in_quotes(table.keys[i]),
             fmt::format("{}", fmt::join(names, ", ")), near ? fmt::format("Did you mean {}?", *near) : "");
    }
    VariedKey varied = read_key(table);
    varied.values = table.find("values") != nullptr ? read_values(table) : read_range(table, varied);
    for (std::size_t i = 0; i < varied.values.size(); ++i)
      for (std::size_t j = 0; j < i; ++j)
        if (value_toml(varied.values[i]) == value_toml(varied.values[j]))
          refuse(varied.values[i].line, table_, varied_text(varied.values[i]) + " twice", "values that differ");
    keys_.push_back(std::move(varied));
    if (combinations(keys_) > kMostCombinations)
      refuse(table.line, table_, fmt::format("more than {} combinations", kMostCombinations),
             fmt::format("{} at most", kMostCombinations), "Vary fewer keys at once, or fewer values of each");
  }

  VariedKey read_key(const Node& table) const {
    const Node* key = table.find("key");
    if (key == nullptr || key->kind != Node::Kind::kText)
      refuse(key == nullptr ? table.line : key->line, at("key"), key == nullptr ? "nothing" : describe(*key),
             allowed("key"), "Write for example key = \"sheet.temperature\"");
    const auto steps = steps_of(key->text);
    const Key* row = steps ? find_key(row_path(*steps)) : nullptr;
    if (row == nullptr || row->path.starts_with("vary")) {
      std::vector<std::string> names;
      for (const Key& known : schema()) names.emplace_back(known.path);
      const auto near = nearest_word(key->text, names);
      refuse(key->line, at("key"), "the unknown key " + in_quotes(key->text), "a key of a case, from its top",
             near ? fmt::format("Did you mean {}?", *near) : "pellicle schema lists them");
    }
    for (const VariedKey& other : keys_) {
      const std::string &a = key->text, &b = other.path;
      if (a == b || a.starts_with(b + '.') || b.starts_with(a + '.'))
        refuse(key->line, at("key"), in_quotes(a) + (a == b ? " again" : " beside " + in_quotes(b)),
               "each key once, and no table beside its own keys");
    }
    return {key->text, row, {}};
  }

  std::vector<Node> read_values(const Node& table) const {
    for (const char* other : {"from", "to", "count"})
      if (const Node* extra = table.find(other))
        refuse(extra->line, at(other), fmt::format("values and {} together", other),
               "one of values, or from, to, count");
    const Node& values = *table.find("values");
    if (values.kind != Node::Kind::kArray || values.items.empty())
      refuse(values.line, at("values"), describe(values), allowed("values"),
             "Write for example values = [\"120 °C\", \"140 °C\"]");
    return values.items;
  }

  std::vector<Node> read_range(const Node& table, const VariedKey& varied) const {
    const Node *from = table.find("from"), *to = table.find("to"), *count = table.find("count");
    if (from == nullptr || to == nullptr || count == nullptr)
      refuse(table.line, table_, "no values", "values, or from, to and count",
             "Write for example values = [\"120 °C\", \"140 °C\"]");
    const Key& row = *find_key("vary.count");
    if (count->kind != Node::Kind::kNumber || count->number != std::floor(count->number) || count->number < row.low ||
        count->number > row.high)
      refuse(count->line, at("count"), describe(*count), allowed("count"));
    const double low = varied_number(varied, *from), high = varied_number(varied, *to);
    for (const auto& [word, node, number] : {std::tuple{"from", from, low}, {"to", to, high}})
      if (std::isnan(number))
        refuse(node->line, at(word), describe(*node),
               fmt::format("an end of a range of {}: {}", varied.path, allowed_text(*varied.key)),
               "A key that takes words or lists is varied with values = [...]");
    const int n = static_cast<int>(count->number);
    std::vector<Node> values{*from};
    for (int i = 1; i + 1 < n; ++i) {
      const double number = low + (high - low) * i / (n - 1);
      Node value = *from;
      value.number = number;
      if (from->kind == Node::Kind::kText) value.text = format_in(to_SI(number, varied.key->unit), varied.key->unit);
      values.push_back(std::move(value));
    }
    values.push_back(*to);
    return values;
  }

  const std::string& file_name_;
  std::string table_;
  std::vector<VariedKey> keys_;
};

/// The place of a key in the tree; tables that are missing are made.
Node& place_of(Node& root, const VariedKey& varied, int line, const std::string& file_name) {
  const auto refuse = [&](std::string found, std::string allowed, std::string advice) {
    throw Error({Fault::Kind::kCase, fmt::format("{}:{}, vary, {}", file_name, line, varied.path), std::move(found),
                 std::move(allowed), std::move(advice)});
  };
  Node* at = &root;
  const std::vector<Step> steps = *steps_of(varied.path);
  for (std::size_t i = 0; i < steps.size(); ++i) {
    const Step& step = steps[i];
    const bool is_last = i + 1 == steps.size();
    auto found = std::find(at->keys.begin(), at->keys.end(), step.name);
    if (found == at->keys.end()) {
      at->keys.push_back(step.name);
      at->key_lines.push_back(line);
      at->items.emplace_back().line = line;
      found = at->keys.end() - 1;
    }
    const auto n = static_cast<std::size_t>(found - at->keys.begin());
    if (is_last) at->key_lines[n] = line;
    Node* next = &at->items[n];
    const int tables = next->kind == Node::Kind::kArray ? static_cast<int>(next->items.size()) : 0;
    if (step.number > tables)
      refuse(fmt::format("number {} of {}", step.number, step.name),
             tables == 0 ? "a table without a number" : fmt::format("1 to {}", tables), "Numbers count from 1");
    if (step.number > 0) next = &next->items[static_cast<std::size_t>(step.number - 1)];
    if (!is_last && next->kind == Node::Kind::kArray)
      refuse(fmt::format("{} without a number", step.name), fmt::format("1 to {}", tables),
             fmt::format("Write for example {}[1]", step.name));
    if (!is_last && next->kind != Node::Kind::kTable)
      refuse(fmt::format("{} as {}", step.name, describe(*next)), "a table", "Vary that key as a whole");
    at = next;
  }
  return *at;
}

/// Whether a text under a key is the path of a file; sheet.polymer may be one, or the name of a card of the program.
bool is_path(const Key& key, const std::string& text) {
  return key.names_file || (key.path == "sheet.polymer" && names_a_card_file(text));
}

/// Files are named relative to the case; a copy of it elsewhere must still find them.
void find_files_from_anywhere(Node& node, const std::string& rows, const fs::path& folder) {
  if (node.kind == Node::Kind::kArray)
    for (Node& item : node.items) find_files_from_anywhere(item, rows, folder);
  for (std::size_t i = 0; node.kind == Node::Kind::kTable && i < node.items.size(); ++i) {
    const std::string path = rows.empty() ? node.keys[i] : fmt::format("{}.{}", rows, node.keys[i]);
    const Key* key = find_key(path);
    Node& item = node.items[i];
    if (key != nullptr && item.kind == Node::Kind::kText && is_path(*key, item.text))
      item.text = fs::absolute(folder / item.text).lexically_normal().string();
    find_files_from_anywhere(item, path, folder);
  }
}

}  // namespace

std::vector<VariedKey> take_varied(Node& root, const std::string& file_name) {
  const auto at = std::find(root.keys.begin(), root.keys.end(), "vary");
  if (at == root.keys.end()) return {};
  const auto n = at - root.keys.begin();
  std::vector<VariedKey> keys =
      VaryReader(file_name).read(root.items[static_cast<std::size_t>(n)], root.key_lines[static_cast<std::size_t>(n)]);
  root.keys.erase(at);
  root.key_lines.erase(root.key_lines.begin() + n);
  root.items.erase(root.items.begin() + n);
  return keys;
}

int combinations(const std::vector<VariedKey>& keys) {
  std::size_t product = keys.empty() ? 0 : 1;
  for (const VariedKey& key : keys) product = std::min<std::size_t>(product * key.values.size(), kMostCombinations + 1);
  return static_cast<int>(product);
}

std::vector<std::size_t> choice_of(const std::vector<VariedKey>& keys, int index) {
  std::vector<std::size_t> choice(keys.size());
  auto rest = static_cast<std::size_t>(index - 1);
  for (std::size_t k = keys.size(); k-- > 0; rest /= keys[k].values.size()) choice[k] = rest % keys[k].values.size();
  return choice;
}

Node combined(Node root, const std::vector<VariedKey>& keys, int index, const std::string& file_name) {
  const std::vector<std::size_t> choice = choice_of(keys, index);
  for (std::size_t k = 0; k < keys.size(); ++k) {
    const Node& value = keys[k].values[choice[k]];
    place_of(root, keys[k], value.line, file_name) = value;
  }
  return root;
}

std::string varied_text(const Node& value) { return value.kind == Node::Kind::kText ? value.text : value_toml(value); }

double varied_number(const VariedKey& key, const Node& value) {
  constexpr double kNone = std::numeric_limits<double>::quiet_NaN();
  if (key.key->count != 0) return kNone;
  const bool takes_number = key.key->kind == Kind::kNumber || key.key->kind == Kind::kWhole;
  if (takes_number && value.kind == Node::Kind::kNumber) return value.number;
  if (key.key->kind != Kind::kQuantity || value.kind != Node::Kind::kText) return kNone;
  const auto reading = parse_quantity(value.text, key.key->dimension);
  const double* value_SI = std::get_if<double>(&reading);
  return value_SI == nullptr ? kNone : from_SI(*value_SI, key.key->unit);
}

std::string combination_text(const std::vector<VariedKey>& keys, int index) {
  const std::vector<std::size_t> choice = choice_of(keys, index);
  std::string text;
  for (std::size_t k = 0; k < keys.size(); ++k)
    text += fmt::format("{}{} {}", k == 0 ? "" : ", ", keys[k].path, varied_text(keys[k].values[choice[k]]));
  return text;
}

std::string combination_file(Node combined, const std::vector<VariedKey>& keys, int index, const fs::path& folder,
                             const std::string& title) {
  find_files_from_anywhere(combined, "", folder);
  const bool varies_title =
      std::any_of(keys.begin(), keys.end(), [](const VariedKey& key) { return key.path == "title"; });
  const std::string combination = combination_text(keys, index);
  if (combined.find("title") == nullptr) {
    Node text;
    text.kind = Node::Kind::kText;
    text.text = title;
    combined.keys.insert(combined.keys.begin(), "title");
    combined.key_lines.insert(combined.key_lines.begin(), 0);
    combined.items.insert(combined.items.begin(), text);
  }
  const auto at = std::find(combined.keys.begin(), combined.keys.end(), "title") - combined.keys.begin();
  Node& text = combined.items[static_cast<std::size_t>(at)];
  if (!varies_title) text.text += " · " + combination;
  return fmt::format("# Case {} of {} of a sweep, made by pellicle from its [[vary]]\n{}", index, combinations(keys),
                     document_toml(combined));
}

}  // namespace pellicle::cases
