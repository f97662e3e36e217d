// Which words does a text file hold, and on which line? For readers of mould files that are text.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>

namespace pellicle::moulds {

/// Words between blanks, with the line they stand on. A line ends with LF, CR LF or CR.
class Words {
 public:
  explicit Words(std::string_view text, int first_line = 1);

  /// Empty at the end of the file.
  std::string_view next();
  /// Empty at the end of the line, which it does not cross, unless a backslash is the last character of it.
  std::string_view next_on_line();
  /// To the start of the next line, wherever on this one we are; false at the end of the file.
  bool next_line();
  int line() const { return line_; }
  /// Bytes not looked at yet.
  std::size_t left() const { return text_.size() - at_; }

 private:
  bool at_line_end(std::size_t at) const;
  void step();
  std::string_view word();

  std::string_view text_;
  std::size_t at_ = 0;
  int line_;
};

bool same_word(std::string_view word, std::string_view lower);

/// A word for a message: short, in quotes, without control characters; "the end of the file" for an empty one.
std::string shown(std::string_view word, const char* if_empty = "the end of the file");

/// The whole word as a number a coordinate may have: finite and not absurd.
std::optional<double> coordinate_in(std::string_view word);

/// The whole word as a whole number.
std::optional<long long> whole_in(std::string_view word);

}  // namespace pellicle::moulds
