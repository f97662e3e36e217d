// Which known word did the person mean?
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace pellicle::cases {

/// Insertions, deletions, replacements and swaps of neighbours that turn a into b; case is ignored. (Damerau, CACM 7
/// (1964) 171, in the restricted form: no second edit inside a swapped pair; from memory.)
int edit_distance(std::string_view a, std::string_view b);

/// The nearest word, if it is near enough to be a slip: at most a third of the word's length, at least 1 edit.
std::optional<std::string> nearest_word(std::string_view word, const std::vector<std::string>& known);

}  // namespace pellicle::cases
