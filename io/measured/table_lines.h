// Which lines of a CSV table hold something, and on which line of the file do they stand?
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace pellicle::measured {

/// What stands between the commas, without the blanks around it.
std::vector<std::string_view> cells_of(std::string_view line);

/// The lines of a text, without blanks at their ends. Passed over are blank lines, those that start with #, and a byte
/// order mark in front of the first. Lines end with LF or CR LF. The text has to live as long as its lines are used.
class TableLines {
 public:
  explicit TableLines(std::string_view text);

  /// None at the end.
  std::optional<std::string_view> next();
  /// "NAME:LINE" of the line that next() gave last; "NAME" before the first.
  std::string place(const std::string& name) const;

 private:
  std::string_view rest_;
  int read_ = 0;   ///< lines so far, passed over or not
  int given_ = 0;  ///< number of the last one given; 0: none
};

/// Whole text of a table of `what`. Throws Error (case) if there is no such file or if it is larger than `most_bytes`.
std::string read_table(const std::filesystem::path& file, std::string_view what, std::uintmax_t most_bytes);

}  // namespace pellicle::measured
