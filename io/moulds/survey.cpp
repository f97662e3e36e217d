// Can a sheet be formed on this surface, and what about it should its maker know?
#include "io/moulds/survey.h"

#include "io/moulds/fill.h"

#include <fmt/format.h>

#include <algorithm>
#include <limits>

namespace pellicle::moulds {
namespace {

using mesh::Defect;

/// A shallower undercut is told by no warning: a part that shrinks and gives way passes it.
constexpr double kLeastUndercut_m = 1e-5;

/// From so many holes on a surface may be a heap of loose triangles.
constexpr std::size_t kManyRims = 20;
constexpr mesh::InspectOptions kQuick{.crossings = false, .narrow = false, .widest_m = 0.0};

/// How a kind of defect is told.
struct Wording {
  Defect defect;
  const char* one;
  const char* many;
  const char* which;  ///< before the place when there are several
  const char* means;
  const char* try_;
};

constexpr Wording kWordings[] = {
    {Defect::kHole, "a hole in the surface", "holes in the surface", "the longest rim round",
     "the sheet meets the side it starts on and may slip in there",
     "close the surface in the program that made the mould, unless it is meant to be open"},
    {Defect::kTurned, "triangle that runs against its neighbours", "triangles that run against their neighbours",
     "the first at", "turned for this run", "make the normals consistent in the program that made the mould"},
    {Defect::kDuplicate, "triangle on the same corners as another", "triangles on the same corners as others",
     "the first at", "left out", "remove doubled faces in the program that made the mould"},
    {Defect::kBranch, "triangle at an edge that more than two share", "triangles at edges that more than two share",
     "the first at", "both sides of such an edge are met, the edge itself may let a node through",
     "give loose walls a thickness, or unite the bodies in the program that made the mould"},
    {Defect::kCrossing, "triangle that another one cuts through", "triangles that others cut through", "the first at",
     "the sheet meets whatever is outermost", "unite the bodies in the program that made the mould"},
    {Defect::kNested, "closed body inside another one", "closed bodies inside others", "the largest at",
     "no sheet gets there", "remove it, or turn it inside out if it is meant as a hollow"},
    {Defect::kSliver, "triangle too thin to have a direction", "triangles too thin to have a direction", "the first at",
     "met as an edge", "mesh the surface anew in the program that made the mould"},
};

std::string counted(const Wording& w, int count) {
  return count == 1 ? fmt::format("{}{}", w.defect == Defect::kHole ? "" : "1 ", w.one)
                    : fmt::format("{} {}", count, w.many);
}

std::string place_of(const Wording& w, const mesh::Found& found, const mesh::Inspection& inspection) {
  const std::string at = place_text(found.place_m);
  if (w.defect != Defect::kHole) return found.count == 1 ? "at " + at : fmt::format("{} {}", w.which, at);
  const double length_mm = inspection.rims.empty() ? 0.0 : 1e3 * inspection.rims.front().length_m;
  return fmt::format("{}, {:.4g} mm long", found.count == 1 ? "its rim round " + at : w.which + (" " + at), length_mm);
}

std::optional<Fault> what_hinders(const mesh::Inspection& inspection) {
  for (const mesh::Body& body : inspection.bodies) {
    if (!body.is_one_sided && !body.is_inside_out) continue;
    const std::string which =
        fmt::format("of {} triangles round {}", body.triangles, place_text(0.5 * (body.low_m + body.high_m)));
    if (body.is_one_sided)
      return Fault{Fault::Kind::kGeometry, "mould.surface",
                   "a surface " + which + " with one side only, as a twisted band has",
                   "a surface with an outside and an inside", "give it a thickness in the program that made the mould"};
    return Fault{Fault::Kind::kGeometry, "mould.surface",
                 fmt::format("a surface turned inside out, {}, volume {:.3g} cm^3", which, 1e6 * body.volume_m3),
                 "triangles that run counter-clockwise seen from outside",
                 "flip the normals in the program that made the mould"};
  }
  return std::nullopt;
}

/// A sheet that can get behind the surface finds no inside to be kept out of. An open surface that shows more back than
/// front is taken the other way round as a whole (make_mould in solver/prepare).
std::optional<Fault> what_shows_its_back(const Survey& s) {
  const mesh::Visibility& seen = s.visibility;
  const bool is_open = s.open_at_m.has_value();
  const std::size_t loose = s.inspection.rims.size();
  if (is_open && loose > kManyRims && 2 * loose > s.inspection.body.size())
    return Fault{Fault::Kind::kGeometry, "mould.surface",
                 fmt::format("{} loose pieces with gaps between them, one at {}", loose,
                             place_text(s.inspection.rims.front().centre_m)),
                 "triangles that meet in common corners", "merge near points in the program that made the mould"};
  if (seen.back_area_m2 == 0.0 || (is_open && seen.back_area_m2 > seen.seen_area_m2)) return std::nullopt;
  return Fault{Fault::Kind::kGeometry, "mould.surface",
               fmt::format("a surface that shows its inside to the sheet, {:.3g} mm^2 of it, at {}",
                           1e6 * seen.back_area_m2, place_text(seen.back_m)),
               "a surface whose outside faces the sheet everywhere",
               is_open ? "close its holes in the program that made the mould"
                       : "it passes through itself: unite its parts in the program that made the mould"};
}

std::optional<Remark> about_undercut(const mesh::Visibility& visibility) {
  if (visibility.undercut_depth_m < kLeastUndercut_m) return std::nullopt;
  return Remark{fmt::format("an undercut of {:.3g} mm^2, up to {:.3g} mm deep", 1e6 * visibility.undercut_area_m2,
                            1e3 * visibility.undercut_depth_m),
                "deepest at " + place_text(visibility.deepest_m),
                "the sheet may wrap around it and the part will not come off without force",
                "give the wall draft, or turn the mould"};
}

bool has(std::uint16_t marks, Defect defect) { return (marks >> static_cast<unsigned>(defect) & 1U) != 0; }

std::vector<char> crossing_ones(const mesh::Inspection& inspection) {
  std::vector<char> flags;
  flags.reserve(inspection.marks.size());
  for (const std::uint16_t marks : inspection.marks) flags.push_back(has(marks, Defect::kCrossing) ? 1 : 0);
  return flags;
}

std::vector<char> without_doubles(const std::vector<char>& all, const mesh::Inspection& inspection) {
  std::vector<char> kept;
  for (std::size_t e = 0; e < all.size(); ++e)
    if (!has(inspection.marks[e], Defect::kDuplicate)) kept.push_back(all[e]);
  return kept;
}

/// Of the triangles that were kept, in their order, back to all; a double is seen as little as what it doubles.
std::vector<mesh::Sight> as_read(const std::vector<mesh::Sight>& kept, const mesh::Inspection& inspection) {
  std::vector<mesh::Sight> all;
  all.reserve(inspection.marks.size());
  std::size_t next = 0;
  for (const std::uint16_t marks : inspection.marks)
    all.push_back(has(marks, Defect::kDuplicate) ? mesh::Sight::kHidden : kept[next++]);
  return all;
}

}  // namespace

std::string place_text(const mesh::Vec3& place_m) {
  const mesh::Vec3 mm = (1e5 * place_m).array().round().matrix() / 100.0 + mesh::Vec3::Zero();  // no -0.00
  return fmt::format("({:.2f}, {:.2f}, {:.2f}) mm", mm.x(), mm.y(), mm.z());
}

std::vector<std::string> Survey::warnings(const SurfaceFile& file) const {
  std::vector<std::string> sentences;
  for (const Remark& remark : remarks)
    sentences.push_back(
        fmt::format("{}: {}, {}: {}; {}", file.path.string(), remark.found, remark.place, remark.means, remark.try_));
  return sentences;
}

Survey survey(const mesh::TriangleMesh& surface, bool platform, Depth depth) {
  double floor_m = platform ? 0.0 : std::numeric_limits<double>::infinity();
  if (!platform)
    for (const mesh::Vec3& p : surface.points_m) floor_m = std::min(floor_m, p.z());
  Survey s;
  const mesh::Nearest nearest(surface);
  s.inspection = mesh::inspect(nearest, {.crossings = true, .narrow = depth == Depth::kForAReport, .widest_m = 0.0});
  const auto count = [&](Defect defect) { return s.inspection.of(defect).count; };
  s.fault = what_hinders(s.inspection);
  if (count(Defect::kTurned) + count(Defect::kDuplicate) + count(Defect::kBranch) > 0)
    s.mended = mesh::mended(surface, s.inspection);
  int closed = 0;
  bool has_branches = false;
  if (!s.fault && count(Defect::kHole) + count(Defect::kBranch) > 0) {
    const mesh::TriangleMesh& now = s.mended ? *s.mended : surface;
    const mesh::Inspection again = mesh::inspect(mesh::Nearest(now), kQuick);
    has_branches = again.of(Defect::kBranch).count > 0;
    Filled filled = fill_holes(now, again);
    closed = filled.closed;
    s.open_at_m = filled.open_at_m;
    if (closed > 0) s.mended = std::move(filled.mesh);
  }
  const std::vector<char> closely = crossing_ones(s.inspection);
  if (s.mended) {
    std::vector<char> kept = without_doubles(closely, s.inspection);
    kept.resize(s.mended->triangles.size(), 0);
    s.visibility = mesh::look_from_above(mesh::Nearest(*s.mended), floor_m, kept);
    s.visibility.sight = as_read(s.visibility.sight, s.inspection);
  } else {
    s.visibility = mesh::look_from_above(nearest, floor_m, closely);
  }
  if (!s.fault) s.fault = what_shows_its_back(s);
  for (const Wording& w : kWordings) {
    const mesh::Found& found = s.inspection.of(w.defect);
    if (found.count == 0) continue;
    const char* means = w.means;
    if (w.defect == Defect::kHole && closed > 0)
      means = s.open_at_m ? "closed for this run as far as it goes" : "closed for this run";
    if (w.defect == Defect::kBranch && !has_branches) means = "taken apart there for this run";
    s.remarks.push_back({counted(w, found.count), place_of(w, found, s.inspection), means, w.try_});
  }
  if (!s.fault)
    if (auto undercut = about_undercut(s.visibility)) s.remarks.push_back(std::move(*undercut));
  return s;
}

}  // namespace pellicle::moulds
