// Which lines of a CSV table hold something, and on which line of the file do they stand?
#include "io/measured/table_lines.h"

#include "io/results/result_folder.h"
#include "mesh/check.h"

#include <fmt/format.h>

#include <algorithm>
#include <system_error>

namespace pellicle::measured {
namespace {

std::string_view trimmed(std::string_view text) {
  const auto first = text.find_first_not_of(" \t\r");
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(" \t\r") - first + 1);
}

}  // namespace

std::vector<std::string_view> cells_of(std::string_view line) {
  std::vector<std::string_view> cells;
  for (std::size_t from = 0; from <= line.size();) {
    const std::size_t end = std::min(line.find(',', from), line.size());
    cells.push_back(trimmed(line.substr(from, end - from)));
    from = end + 1;
  }
  return cells;
}

TableLines::TableLines(std::string_view text) : rest_(text) {
  if (rest_.starts_with("\xEF\xBB\xBF")) rest_.remove_prefix(3);  // some table programs put it there
}

std::optional<std::string_view> TableLines::next() {
  while (!rest_.empty()) {
    ++read_;
    const auto end = rest_.find('\n');
    const std::string_view line = trimmed(rest_.substr(0, end));
    rest_ = end == std::string_view::npos ? std::string_view() : rest_.substr(end + 1);
    if (line.empty() || line.front() == '#') continue;
    given_ = read_;
    return line;
  }
  return std::nullopt;
}

std::string TableLines::place(const std::string& name) const {
  return given_ > 0 ? fmt::format("{}:{}", name, given_) : name;
}

std::string read_table(const std::filesystem::path& file, std::string_view what, std::uintmax_t most_bytes) {
  std::error_code problem;
  const auto refuse = [&](std::string found) {
    throw Error({Fault::Kind::kCase, file.string(), std::move(found),
                 fmt::format("a .csv table of {}, {} MB at most", what, most_bytes >> 20U), ""});
  };
  if (!std::filesystem::is_regular_file(file, problem)) refuse("no such file");
  if (std::filesystem::file_size(file, problem) > most_bytes) refuse("a larger file");
  return results::read_file(file);
}

}  // namespace pellicle::measured
