// What does this case ask for? From a path to a validated pellicle::Case, with the origin of every value.
#pragma once

#include "io/case/own_card.h"
#include "io/heater/map_file.h"
#include "io/moulds/load.h"
#include "mesh/check.h"
#include "solver/case.h"

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace pellicle::cases {

enum class Origin { kCase, kCard, kDefault };
const char* origin_name(Origin origin);

/// What a case is read for.
enum class Purpose {
  kForming,      ///< it must say what is formed and how
  kReliefsAlone  ///< that may be missing where every relief has a state of its own
};

/// One resolved value, for `check` and for the record.
struct ResolvedValue {
  std::string key;    ///< "sheet.thickness", "forming.stage[1].pressure"
  std::string value;  ///< with its unit: "0.75 mm"
  Origin origin;
  int line;          ///< in the case file; 0 for a card or a default
  std::string note;  ///< mark and source of a card's number; how a default was worked out
};

struct ParsedCase {
  Case value;
  std::optional<moulds::SurfaceFile> mould;   ///< none: free inflation, or the platform alone
  std::optional<heater::MapFile> heater_map;  ///< none: the heater was even
  std::vector<ResolvedValue> values;          ///< every value, in the order of the reference
  std::vector<ResolvedValue> not_used_yet;    ///< given in the case, understood, without effect in this version
  std::vector<std::string> warnings;
  bool reliefs_alone = false;       ///< every relief has a state and forming is not asked for: sheet may be all zero
  std::filesystem::path file;       ///< the case file itself
  std::string text;                 ///< the case file as read
  std::optional<OwnCard> own_card;  ///< none: sheet.polymer names a card of the program, or there is none
  std::string result_stem;          ///< `<result_stem>-results` is the default results folder
};

/// CASE is a .toml file or a folder with case.toml. Throws Error (case) for the first thing that is wrong. The mould
/// file must exist but is not read: that is moulds::load_surface. A case with [[vary]] is many: it is refused (vary.h).
ParsedCase parse_case(const std::filesystem::path& case_path, Purpose purpose = Purpose::kForming);

/// The case of an interrupted run, from the text and stem it was started with; `file` is for messages. The files it
/// names are not looked for, but for a card of its own: that is kOwnCardCopy beside `file`. A map of the heater is that
/// beside `file` as well, and need not be there. Throws Error (case).
ParsedCase parse_again(std::string text, std::filesystem::path file, std::string result_stem);

/// What was thrown about this case once it was read, with the case file and line in front if `where` starts with a key
/// ("sheet.height", "stage 'press', clamp_to") or with a table of a relief ("relief 'word', source": its first key). No
/// line for a key the case does not give.
Error with_line(const ParsedCase& parsed, const Error& error);

/// Calls `what`; an Error about the case leaves with its line.
template <typename What>
auto telling_lines(const ParsedCase& parsed, const What& what) {
  try {
    return what();
  } catch (const Error& error) {
    throw with_line(parsed, error);
  }
}

/// Texts of the cards in the program, for the record of a run (TOML).
std::string polymer_cards();
std::string resin_cards();

}  // namespace pellicle::cases
