// Which file tells how evenly the heater has warmed the sheet, and what temperature has each place by it?
#pragma once

#include "mesh/sheet_mesher.h"
#include "solver/sheet/heat.h"

#include <filesystem>
#include <string>
#include <string_view>
#include <variant>

namespace pellicle::heater {

/// 16-bit grey PNG seen from above, its lowest row at the smallest y.
struct Picture {
  double black_K, white_K;
  mesh::Vec2 middle_m;
  double width_m;  ///< along x; along y as the pixels are square
};
/// CSV with the columns x_mm,y_mm,temperature_C, in the mould's coordinates.
struct Table {};

struct MapFile {
  std::filesystem::path path;
  std::variant<Picture, Table> kind;
};

/// Temperatures between the points of a table: at each place of a grid a plane through the points, weighted with one
/// over the square of the squared distance (moving least squares: Lancaster & Salkauskas, Math. Comp. 37 (1981) 141,
/// from memory), kept within their range; a table of an even slope comes back exactly. The grid covers the outline with
/// kGridPoints a side. Throws Error (case) with name:line for what is no such table.
sheet::TemperatureMap read_table(std::string_view text, const std::string& name, const mesh::Outline& outline);
inline constexpr int kGridPoints = 121;
inline constexpr std::size_t kMostPoints = 2000;

/// Throws Error (geometry) as reliefs::read_bytes does.
std::string bytes_of(const MapFile& file);
/// Of the bytes of the file. Throws as read_table and reliefs::read_image do.
sheet::TemperatureMap map_of(std::string_view bytes, const MapFile& file, const mesh::Outline& outline);

/// The name under which a results folder keeps it, so that nothing outside is read again.
std::string_view kept_name(const MapFile& file);
inline constexpr std::string_view kKeptTable = "sheet_temperature_map.csv", kKeptPicture = "sheet_temperature_map.png";

/// Mean over the outline [K].
double mean_K(const sheet::TemperatureMap& map, const mesh::Outline& outline);

}  // namespace pellicle::heater
