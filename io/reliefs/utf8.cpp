// Which characters does a text hold? UTF-8 (RFC 3629): no surrogates, no longer forms than needed.
#include "io/reliefs/utf8.h"

#include "io/reliefs/refusals.h"

#include <fmt/format.h>

namespace pellicle::reliefs {
namespace {

/// Bytes after the first, its bits, and the smallest character that needs as many.
struct Lead {
  int more;
  unsigned bits;
  char32_t least;
};

Lead lead_of(unsigned char byte) {
  if (byte < 0x80U) return {0, byte, 0};
  if (byte >= 0xC0U && byte < 0xE0U) return {1, byte & 0x1FU, 0x80};
  if (byte >= 0xE0U && byte < 0xF0U) return {2, byte & 0x0FU, 0x800};
  if (byte >= 0xF0U && byte < 0xF8U) return {3, byte & 0x07U, 0x10000};
  return {-1, 0, 0};
}

}  // namespace

std::u32string characters_of(std::string_view text, const std::string& where) {
  std::u32string out;
  const auto byte = [&](std::size_t k) { return static_cast<unsigned char>(text[k]); };
  for (std::size_t at = 0; at < text.size();) {
    const Lead lead = lead_of(byte(at));
    char32_t character = lead.bits;
    bool fits = lead.more >= 0 && at + static_cast<std::size_t>(lead.more) < text.size();
    for (int k = 1; fits && k <= lead.more; ++k) {
      const unsigned char next = byte(at + static_cast<std::size_t>(k));
      fits = (next & 0xC0U) == 0x80U;
      character = character << 6U | (next & 0x3FU);
    }
    fits = fits && character >= lead.least && character <= 0x10FFFF && (character < 0xD800 || character > 0xDFFF);
    if (!fits) {
      refuse_wish(where, fmt::format("byte {} (0x{:02X}), which is no UTF-8", at + 1, unsigned{byte(at)}),
                  "text in UTF-8", "Save the case file as UTF-8");
    }
    out += character;
    at += static_cast<std::size_t>(lead.more) + 1;
  }
  return out;
}

std::string utf8_of(char32_t c) {
  const auto part = [&](unsigned shift, unsigned lead) {
    return static_cast<char>(lead | (c >> shift & (lead == 0x80U ? 0x3FU : 0xFFU)));
  };
  if (c < 0x80) return {static_cast<char>(c)};
  if (c < 0x800) return {part(6, 0xC0U), part(0, 0x80U)};
  if (c < 0x10000) return {part(12, 0xE0U), part(6, 0x80U), part(0, 0x80U)};
  return {part(18, 0xF0U), part(12, 0x80U), part(6, 0x80U), part(0, 0x80U)};
}

std::string named(char32_t c) {
  const std::string number = fmt::format("U+{:04X}", static_cast<unsigned>(c));
  const bool is_seen = c > 0x20 && !(c >= 0x7F && c < 0xA1) && c < 0xE000;
  return is_seen ? fmt::format("{} '{}'", number, utf8_of(c)) : number;
}

std::string place_of(std::u32string_view text, std::size_t index) {
  std::size_t line = 1, column = 1;
  for (std::size_t k = 0; k < index; ++k) {
    ++column;
    if (text[k] == U'\n') ++line, column = 1;
  }
  return fmt::format("line {}, character {}", line, column);
}

}  // namespace pellicle::reliefs
