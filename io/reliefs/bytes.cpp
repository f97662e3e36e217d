// What stands in a file, if it is not too large?
#include "io/reliefs/bytes.h"

#include "io/reliefs/refusals.h"

#include <fmt/format.h>

#include <fstream>
#include <system_error>

namespace pellicle::reliefs {

std::string read_bytes(const std::filesystem::path& path, std::uintmax_t most_bytes) {
  const std::string name = path.string();
  std::error_code problem;
  if (!std::filesystem::is_regular_file(path, problem)) {
    refuse_shape(name, problem ? "a file that cannot be read (" + problem.message() + ")" : "no plain file",
                 "a readable file", "Paths are relative to the case file");
  }
  const std::uintmax_t size = std::filesystem::file_size(path, problem);
  if (problem) refuse_shape(name, "a file that cannot be read (" + problem.message() + ")", "a readable file");
  if (size > most_bytes) {
    refuse_shape(name, fmt::format("{:.1f} MB", static_cast<double>(size) * 1e-6),
                 fmt::format("up to {:.0f} MB", static_cast<double>(most_bytes) * 1e-6));
  }
  std::string bytes(static_cast<std::size_t>(size), '\0');
  std::ifstream in(path, std::ios::binary);
  in.read(bytes.data(), static_cast<std::streamsize>(size));
  if (!in.is_open() || in.gcount() != static_cast<std::streamsize>(size)) {
    refuse_shape(name, "a file that cannot be read", "a readable file", "Check its permissions");
  }
  return bytes;
}

}  // namespace pellicle::reliefs
