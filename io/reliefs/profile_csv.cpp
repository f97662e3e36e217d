// What profile does a table of points hold? One point a line, each with its line in the message.
#include "io/reliefs/profile_csv.h"

#include "io/moulds/words.h"
#include "io/reliefs/refusals.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace pellicle::reliefs {
namespace {

constexpr const char* kLine = "two numbers with a comma between them, such as 0.25,-0.4";

std::string_view trimmed(std::string_view text) {
  const auto first = text.find_first_not_of(" \t\r");
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(" \t\r") - first + 1);
}

class ProfileReader {
 public:
  ProfileReader(std::string_view text, const std::string& name) : rest_(text), name_(name) {
    if (rest_.starts_with("\xEF\xBB\xBF")) rest_.remove_prefix(3);  // some table programs put it there
  }

  mesh::Profile read(mesh::Profile::Kind kind) {
    profile_.kind = kind;
    read_header();
    while (!rest_.empty()) read_point();
    if (profile_.x_m.size() < 2) {
      refuse_shape(here(), fmt::format("{} points", profile_.x_m.size()), "two points or more below the header",
                   "A broken download or a full disk cuts files short");
    }
    return std::move(profile_);
  }
  std::string here() const { return fmt::format("{}:{}", name_, line_); }

 private:
  std::string_view next_line() {
    ++line_;
    const auto end = rest_.find('\n');
    const std::string_view line = trimmed(rest_.substr(0, end));
    rest_ = end == std::string_view::npos ? std::string_view() : rest_.substr(end + 1);
    return line;
  }

  void read_header() {
    const std::string_view line = next_line();
    const auto comma = line.find(',');
    const bool fits = comma != std::string_view::npos && trimmed(line.substr(0, comma)) == "x_mm" &&
                      trimmed(line.substr(comma + 1)) == "z_mm";
    if (!fits) {
      refuse_shape(here(), moulds::shown(line, "an empty line"), "the header x_mm,z_mm",
                   "The columns say their unit: millimetres, x along the profile, z above the land");
    }
  }

  double read_number(std::string_view word, const char* column) {
    const auto value = moulds::coordinate_in(word);
    if (!value) {
      refuse_shape(here(), fmt::format("{} as {}", moulds::shown(word, "nothing"), column), "a finite number in mm");
    }
    if (std::fabs(*value) > kLargestProfile_mm) {
      refuse_shape(here(), fmt::format("{} of {:.10g} mm", column, *value),
                   fmt::format("-{0:.0f} mm to {0:.0f} mm", kLargestProfile_mm), "Are the numbers in millimetres?");
    }
    return *value;
  }

  void read_point() {
    const std::string_view line = next_line();
    if (line.empty()) return;
    const auto comma = line.find(',');
    if (comma == std::string_view::npos || line.find(',', comma + 1) != std::string_view::npos) {
      const bool foreign = line.find(';') != std::string_view::npos || comma != std::string_view::npos;
      refuse_shape(here(), moulds::shown(line), kLine,
                   foreign ? "Decimals have a point, columns a comma: export it so" : "");
    }
    const double x_mm = read_number(trimmed(line.substr(0, comma)), "x_mm");
    const double z_mm = read_number(trimmed(line.substr(comma + 1)), "z_mm");
    if (profile_.x_m.size() == kMostProfilePoints) {
      refuse_shape(here(), fmt::format("more than {} points", kMostProfilePoints), "fewer", "Leave every other out");
    }
    const double x_m = x_mm / 1e3;
    if (!profile_.x_m.empty() && !(x_m > profile_.x_m.back())) {
      refuse_shape(here(), fmt::format("x_mm of {:.10g} after {:.10g}", x_mm, 1e3 * profile_.x_m.back()),
                   "strictly rising x_mm", "A wall that stands upright needs two points a little apart, such as 1 um");
    }
    profile_.x_m.push_back(x_m);
    profile_.z_m.push_back(z_mm / 1e3);
    if (profile_.kind == mesh::Profile::Kind::kRound && profile_.x_m.front() != 0.0) {
      refuse_shape(here(), fmt::format("a round profile that starts at x_mm = {:.10g}", x_mm), "x_mm = 0, the axis",
                   "Give one half only, from the axis outwards");
    }
  }

  std::string_view rest_;
  const std::string& name_;
  int line_ = 0;
  mesh::Profile profile_;
};

}  // namespace

mesh::Profile read_profile_csv(std::string_view text, const std::string& name, mesh::Profile::Kind kind,
                               bool periodic) {
  if (text.empty()) refuse_shape(name, "an empty file", "the header x_mm,z_mm and two points or more");
  ProfileReader reader(text, name);
  mesh::Profile profile = reader.read(kind);
  const auto [low, high] = std::minmax_element(profile.z_m.begin(), profile.z_m.end());
  if (!(*high > *low)) {
    refuse_shape(name, fmt::format("the same z_mm, {:.10g}, at all {} points", 1e3 * *low, profile.z_m.size()),
                 "heights that differ", "A flat profile has nothing to capture");
  }
  if (periodic && profile.z_m.front() != profile.z_m.back()) {
    refuse_shape(reader.here(),
                 fmt::format("z_mm of {:.10g} at the end, {:.10g} at the start", 1e3 * profile.z_m.back(),
                             1e3 * profile.z_m.front()),
                 "the same at both ends with periodic = true", "The last point is the first of the next period");
  }
  return profile;
}

}  // namespace pellicle::reliefs
