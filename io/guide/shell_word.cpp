// How is a name written so that a shell takes it for one word?
#include "io/guide/shell_word.h"

#include <string_view>

namespace pellicle::guide {

std::string shell_word(const std::string& text) {
  constexpr std::string_view kPlain = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-./";
  if (!text.empty() && text.find_first_not_of(kPlain) == std::string::npos) return text;
  std::string word = "'";
  for (const char c : text) c == '\'' ? word.append("'\\''") : word.append(1, c);
  return word + "'";
}

}  // namespace pellicle::guide
