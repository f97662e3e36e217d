// Which card of a polymer does a case bring along? A file named by sheet.polymer, with one card in it.
#pragma once

#include "io/case/cards.h"

#include <filesystem>
#include <string>
#include <string_view>

namespace pellicle::cases {

/// The name under which a results folder keeps it, so that nothing outside is read again.
inline constexpr std::string_view kOwnCardCopy = "sheet_card.toml";

struct OwnCard {
  std::filesystem::path file;
  std::string text;
  PolymerCard card;
};

/// Whether a text means a file and not a card of the program.
bool names_a_card_file(std::string_view text);

/// Throws Error (case) for a file that cannot be read, holds no card or more than one, or a card with a mistake.
/// `where` is told for the first: "case.toml:4, sheet.polymer".
OwnCard read_own_card(const std::filesystem::path& file, const std::string& where);

}  // namespace pellicle::cases
