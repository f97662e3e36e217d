// Which characters does a text hold?
#pragma once

#include <string>
#include <string_view>

namespace pellicle::reliefs {

/// Characters of UTF-8. Throws Error (case) at `where` naming the byte that belongs to none.
std::u32string characters_of(std::string_view text, const std::string& where);

/// UTF-8 of one character.
std::string utf8_of(char32_t character);

/// For a message: "U+0416 'Ж'", the number alone for what cannot be seen.
std::string named(char32_t character);

/// "line 2, character 5": where character `index` stands, both from 1.
std::string place_of(std::u32string_view text, std::size_t index);

}  // namespace pellicle::reliefs
