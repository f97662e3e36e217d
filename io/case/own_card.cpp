// Which card of a polymer does a case bring along? Read and checked like a card of the program.
#include "io/case/own_card.h"

#include "mesh/check.h"

#include <fmt/format.h>

#include <cstdint>
#include <fstream>
#include <iterator>
#include <system_error>

namespace pellicle::cases {
namespace {

constexpr std::uintmax_t kLargestCard_bytes = 1U << 20U;  // a card is a few kilobytes

}  // namespace

bool names_a_card_file(std::string_view text) { return text.ends_with(".toml"); }

OwnCard read_own_card(const std::filesystem::path& file, const std::string& where) {
  const auto refuse = [&](std::string found, std::string advice) {
    throw Error({Fault::Kind::kCase, where, std::move(found),
                 "a .toml file with one card, as in cases/cards, 1 MB at most", std::move(advice)});
  };
  std::error_code problem;
  if (!std::filesystem::is_regular_file(file, problem))
    refuse(fmt::format("'{}', no such file", file.string()), "The path counts from the case's folder");
  const std::uintmax_t size = std::filesystem::file_size(file, problem);
  if (problem || size > kLargestCard_bytes) refuse(fmt::format("'{}' of {} bytes", file.string(), size), "");
  std::ifstream in(file, std::ios::binary);
  OwnCard own{file, std::string((std::istreambuf_iterator<char>(in)), std::istreambuf_iterator<char>()), {}};
  if (!in.is_open() || in.bad())
    refuse(fmt::format("'{}', which cannot be read", file.string()), "Check its permissions");
  std::vector<PolymerCard> cards = read_polymer_cards(own.text, file.string());
  if (cards.size() != 1)
    refuse(fmt::format("'{}' with {} cards", file.string(), cards.size()), "Leave the one card of this sheet in it");
  own.card = std::move(cards.front());
  return own;
}

}  // namespace pellicle::cases
