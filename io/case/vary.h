// Which cases does a case with [[vary]] stand for? Every combination of the values, each as a tree and as a file.
#pragma once

#include "io/case/document.h"
#include "io/case/parse.h"
#include "io/case/schema.h"

#include <filesystem>
#include <string>
#include <vector>

namespace pellicle::cases {

/// One [[vary]] of a file.
struct VariedKey {
  std::string path;          ///< as ParsedCase::values name it: "forming.stage[1].pressure"
  const Key* key = nullptr;  ///< its row in the table of keys
  std::vector<Node> values;  ///< one or more, no two the same
};

/// Takes [[vary]] out of the tree of a file. Empty if there is none. Throws Error (case) for one that is spoilt: an
/// unknown key, the same key twice, the same value twice, more than kMostCombinations.
std::vector<VariedKey> take_varied(Node& root, const std::string& file_name);

constexpr int kMostCombinations = 10000;  ///< beyond it a slip is likelier than a plan
int combinations(const std::vector<VariedKey>& keys);

/// Which value each key has in combination `index`, from 1; the last key changes fastest.
std::vector<std::size_t> choice_of(const std::vector<VariedKey>& keys, int index);

/// The tree with the values of combination `index` in their places. Throws Error (case) where there is no such place.
Node combined(Node root, const std::vector<VariedKey>& keys, int index, const std::string& file_name);

/// "sheet.temperature 140 °C, mould.friction 0.2".
std::string combination_text(const std::vector<VariedKey>& keys, int index);

/// As a person reads it: texts without quotes.
std::string varied_text(const Node& value);
/// In the unit of the key; NaN for a word, a list and the like.
double varied_number(const VariedKey& key, const Node& value);

/// A file of its own for a combined tree: the files it names found from anywhere, and the combination in its title.
/// `folder` is what relative paths start from, `title` holds where the file gives none.
std::string combination_file(Node combined, const std::vector<VariedKey>& keys, int index,
                             const std::filesystem::path& folder, const std::string& title);

/// A case with [[vary]] and all it stands for.
struct ParsedSweep {
  std::filesystem::path file;
  std::string text;         ///< of the file as read
  std::string result_stem;  ///< `<result_stem>-sweep` is the default folder
  std::string title;
  std::vector<VariedKey> keys;
  std::vector<ParsedCase> cases;  ///< combination 1 first; `text` is what combination_file gives
};

/// Every combination is read as a case. Throws Error (case) for the first one that is wrong, and names it, and if the
/// file has no [[vary]].
ParsedSweep parse_sweep(const std::filesystem::path& case_path);

}  // namespace pellicle::cases
