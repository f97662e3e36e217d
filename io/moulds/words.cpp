// Which words does a text file hold, and on which line?
#include "io/moulds/words.h"

#include "io/moulds/facet.h"

#include <algorithm>
#include <charconv>

namespace pellicle::moulds {
namespace {

bool is_blank(char c) { return c == ' ' || c == '\t' || c == '\r' || c == '\n' || c == '\v' || c == '\f'; }

char lowered(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }

template <class Number>
std::optional<Number> number_in(std::string_view word) {
  if (word.starts_with('+')) {
    word.remove_prefix(1);
    if (word.starts_with('-')) return std::nullopt;
  }
  Number value{};
  const auto [end, problem] = std::from_chars(word.data(), word.data() + word.size(), value);
  if (word.empty() || problem != std::errc() || end != word.data() + word.size()) return std::nullopt;
  return value;
}

}  // namespace

Words::Words(std::string_view text, int first_line) : text_(text), line_(first_line) {
  if (text_.starts_with("\xEF\xBB\xBF")) at_ = 3;
}

bool Words::at_line_end(std::size_t at) const { return at < text_.size() && (text_[at] == '\n' || text_[at] == '\r'); }

/// One character on, or over a whole CR LF.
void Words::step() {
  if (at_line_end(at_)) {
    if (text_[at_] == '\r' && at_ + 1 < text_.size() && text_[at_ + 1] == '\n') ++at_;
    ++line_;
  }
  ++at_;
}

std::string_view Words::word() {
  const std::size_t start = at_;
  while (at_ < text_.size() && !is_blank(text_[at_])) ++at_;
  return text_.substr(start, at_ - start);
}

std::string_view Words::next() {
  while (at_ < text_.size() && is_blank(text_[at_])) step();
  return word();
}

std::string_view Words::next_on_line() {
  while (at_ < text_.size()) {
    if (text_[at_] == '\\' && at_line_end(at_ + 1)) {  // the line goes on
      ++at_;
      step();
    } else if (is_blank(text_[at_]) && !at_line_end(at_)) {
      ++at_;
    } else {
      break;
    }
  }
  const std::size_t start = at_;
  while (at_ < text_.size() && !is_blank(text_[at_]) && !(text_[at_] == '\\' && at_line_end(at_ + 1))) ++at_;
  return text_.substr(start, at_ - start);
}

bool Words::next_line() {
  while (at_ < text_.size() && !at_line_end(at_)) ++at_;
  if (at_ < text_.size()) step();
  return at_ < text_.size();
}

bool same_word(std::string_view word, std::string_view lower) {
  return word.size() == lower.size() &&
         std::equal(word.begin(), word.end(), lower.begin(), [](char a, char b) { return lowered(a) == b; });
}

std::string shown(std::string_view word, const char* if_empty) {
  if (word.empty()) return if_empty;
  std::string text;
  for (const char c : word.substr(0, 40)) text += static_cast<unsigned char>(c) < 0x20U || c == 0x7F ? '?' : c;
  return "\"" + text + "\"";
}

std::optional<double> coordinate_in(std::string_view word) {
  const std::optional<double> value = number_in<double>(word);
  return value && is_sane(*value) ? value : std::nullopt;
}

std::optional<long long> whole_in(std::string_view word) { return number_in<long long>(word); }

}  // namespace pellicle::moulds
