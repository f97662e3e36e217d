// What profile does a table of points hold? One point a line, each with its line in the message.
#include "io/reliefs/profile_csv.h"

#include "io/measured/table_lines.h"
#include "io/moulds/words.h"
#include "io/reliefs/refusals.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

namespace pellicle::reliefs {
namespace {

constexpr const char* kLine = "two numbers with a comma between them, such as 0.25,-0.4";

class ProfileReader {
 public:
  ProfileReader(std::string_view text, const std::string& name) : lines_(text), name_(name) {}

  mesh::Profile read(mesh::Profile::Kind kind) {
    profile_.kind = kind;
    read_header();
    while (const auto line = lines_.next()) read_point(*line);
    if (profile_.x_m.size() < 2) {
      refuse_shape(here(), fmt::format("{} points", profile_.x_m.size()), "two points or more below the header",
                   "A broken download or a full disk cuts files short");
    }
    return std::move(profile_);
  }
  std::string here() const { return lines_.place(name_); }

 private:
  void read_header() {
    const auto line = lines_.next();
    if (!line) refuse_shape(name_, "an empty file", "the header x_mm,z_mm and two points or more");
    if (measured::cells_of(*line) != std::vector<std::string_view>{"x_mm", "z_mm"}) {
      refuse_shape(here(), moulds::shown(*line), "the header x_mm,z_mm",
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

  void read_point(std::string_view line) {
    const auto cells = measured::cells_of(line);
    if (cells.size() != 2) {
      const bool foreign = line.find(';') != std::string_view::npos || cells.size() > 2;
      refuse_shape(here(), moulds::shown(line), kLine,
                   foreign ? "Decimals have a point, columns a comma: export it so" : "");
    }
    const double x_mm = read_number(cells[0], "x_mm"), z_mm = read_number(cells[1], "z_mm");
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

  measured::TableLines lines_;
  const std::string& name_;
  mesh::Profile profile_;
};

}  // namespace

mesh::Profile read_profile_csv(std::string_view text, const std::string& name, mesh::Profile::Kind kind,
                               bool periodic) {
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
