// Which known word did the person mean?
#include "io/case/spelling.h"

#include <algorithm>

namespace pellicle::cases {
namespace {

char lower(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }

constexpr std::size_t kLongestWord = 64;  // longer text is no slip of a key; bounds the work

}  // namespace

int edit_distance(std::string_view a, std::string_view b) {
  std::vector<int> before(b.size() + 1), row(b.size() + 1), next(b.size() + 1);
  for (std::size_t j = 0; j <= b.size(); ++j) row[j] = static_cast<int>(j);
  for (std::size_t i = 1; i <= a.size(); ++i) {
    next[0] = static_cast<int>(i);
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const int replace = lower(a[i - 1]) == lower(b[j - 1]) ? 0 : 1;
      next[j] = std::min({row[j] + 1, next[j - 1] + 1, row[j - 1] + replace});
      const bool swapped = i > 1 && j > 1 && lower(a[i - 1]) == lower(b[j - 2]) && lower(a[i - 2]) == lower(b[j - 1]);
      if (swapped) next[j] = std::min(next[j], before[j - 2] + 1);
    }
    before.swap(row);
    row.swap(next);
  }
  return row[b.size()];
}

std::optional<std::string> nearest_word(std::string_view word, const std::vector<std::string>& known) {
  if (word.empty() || word.size() > kLongestWord) return std::nullopt;
  std::optional<std::string> best;
  int best_distance = std::max(1, static_cast<int>(word.size()) / 3) + 1;
  for (const std::string& candidate : known) {
    const int distance = edit_distance(word, candidate);
    if (distance < best_distance) {
      best = candidate;
      best_distance = distance;
    }
  }
  return best;
}

}  // namespace pellicle::cases
