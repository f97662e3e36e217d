// What triangles do the surfaces of a STEP file become?
#include "io/moulds/step.h"

#include "mesh/step_surface.h"

#include <fmt/format.h>

#include <algorithm>

namespace pellicle::moulds {
namespace {

std::string counted(int count, const char* one, const char* many) {
  return fmt::format("{} {}", count, count == 1 ? one : many);
}

}  // namespace

FacetContent read_step(const std::string& path) {
  const mesh::StepSurface surface = mesh::read_step_surface(path);
  FacetContent content;
  content.facets.reserve(surface.triangles.size());
  for (const mesh::Triangle& t : surface.triangles) {
    const auto at = [&](std::size_t k) { return surface.points_mm[static_cast<std::size_t>(t[k])]; };
    content.facets.push_back({at(0), at(1), at(2)});
  }
  const std::string shells = counted(surface.loose_shells, "open shell", "open shells");
  std::string held = counted(surface.solids, "solid", "solids");
  if (surface.solids == 0) held = shells;
  if (surface.solids > 0 && surface.loose_shells > 0) held += " and " + shells;
  const bool is_met = surface.chord_mm <= surface.chord_wanted_mm;
  content.format = fmt::format("STEP, {}, chord error {:.2g} mm", held,
                               is_met ? surface.chord_wanted_mm : std::max(surface.chord_mm, 0.0));
  if (!is_met) {
    content.notes.push_back(
        fmt::format("{}: triangles are up to {:.2g} mm from the surfaces of the file, wanted {:.2g} mm", path,
                    surface.chord_mm, surface.chord_wanted_mm));
  }
  if (surface.loose_faces > 0) {
    content.notes.push_back(
        fmt::format("{}: {} of {} faces bound no solid; which side of them is outside is as the file has it", path,
                    surface.loose_faces, surface.faces));
  }
  if (surface.solids > 1) {
    content.notes.push_back(fmt::format("{}: all {} solids are taken together as the mould", path, surface.solids));
  }
  return content;
}

}  // namespace pellicle::moulds
