// Where are the vents, and where should there be some, for eyes?
#include "io/results/vent_file.h"

#include "io/results/h5.h"
#include "io/results/xdmf.h"

#include <cmath>
#include <numbers>

namespace pellicle::results {
namespace {

constexpr int kFormatVersion = 1;  ///< grows when a reader of an older version would be misled
constexpr int kCorners = 12;       ///< of the disc that stands for a hole
constexpr double kMm_per_m = 1e3;

}  // namespace

void write_vents(ResultFolder& folder, const std::vector<VentPoint>& vents) {
  if (vents.empty()) return;
  std::vector<float> place_mm, diameter_mm, points_mm, disc_diameter_mm, disc_origin;
  std::vector<std::int32_t> origin, triangles;
  for (const VentPoint& v : vents) {
    const auto kind = static_cast<std::int32_t>(v.origin);
    for (int k = 0; k < 3; ++k) place_mm.push_back(static_cast<float>(kMm_per_m * v.place_m[k]));
    diameter_mm.push_back(static_cast<float>(kMm_per_m * v.diameter_m));
    origin.push_back(kind);
    const auto middle = static_cast<std::int32_t>(points_mm.size() / 3);
    points_mm.insert(points_mm.end(), place_mm.end() - 3, place_mm.end());
    for (int k = 0; k < kCorners; ++k) {
      const double angle = 2.0 * std::numbers::pi * k / kCorners, r_mm = 0.5 * kMm_per_m * v.diameter_m;
      points_mm.push_back(static_cast<float>(kMm_per_m * v.place_m.x() + r_mm * std::cos(angle)));
      points_mm.push_back(static_cast<float>(kMm_per_m * v.place_m.y() + r_mm * std::sin(angle)));
      points_mm.push_back(static_cast<float>(kMm_per_m * v.place_m.z()));
      triangles.insert(triangles.end(), {middle, middle + 1 + k, middle + 1 + (k + 1) % kCorners});
      disc_diameter_mm.push_back(diameter_mm.back());
      disc_origin.push_back(static_cast<float>(kind));
    }
  }
  h5::Writer file;
  file.attribute("format", std::string("pellicle-vents"));
  file.attribute("format_version", std::int32_t{kFormatVersion});
  file.attribute("program_version", std::string(PELLICLE_VERSION));
  file.dataset<float>("/place_mm", place_mm, 3);
  file.dataset<float>("/diameter_mm", diameter_mm);
  file.dataset<std::int32_t>("/origin", origin);
  file.dataset<float>("/points_mm", points_mm, 3);
  file.dataset<std::int32_t>("/triangles", triangles, 3);
  file.group("/triangle");
  file.dataset<float>("/triangle/diameter_mm", disc_diameter_mm);
  file.dataset<float>("/triangle/origin", disc_origin);
  XdmfGrid grid{"vents", "vents.h5", std::nullopt, points_mm.size() / 3, triangles.size() / 3, {}};
  grid.fields = {{"/triangle/diameter_mm", true, 1}, {"/triangle/origin", true, 1}};
  folder.write("vents.h5", file.finish());
  folder.write("vents.xdmf", xdmf_surface(grid));
}

}  // namespace pellicle::results
