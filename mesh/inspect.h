// What is wrong with a surface, and where?
#pragma once

#include "mesh/nearest.h"
#include "mesh/triangle_mesh.h"

#include <array>
#include <cstdint>
#include <optional>
#include <string_view>
#include <vector>

namespace pellicle::mesh {

enum class Defect : std::uint8_t {
  kHole,       ///< edges with a triangle on one side only
  kBranch,     ///< edges at which more than two triangles meet
  kTurned,     ///< triangles that run against most of their patch
  kOneSided,   ///< bodies that no turning of triangles makes run alike (a Moebius strip)
  kInsideOut,  ///< closed bodies that face inwards, hollows of others excepted
  kDuplicate,  ///< triangles on the same three points as an earlier one, whichever way they run
  kSliver,     ///< triangles so thin that their direction is round-off
  kCrossing,   ///< triangles that another one cuts through
  kNested,     ///< closed bodies inside another one, hollows excepted: the sheet cannot reach them
};
constexpr int kDefects = 9;
/// "hole", "one sided", ...: for reports.
std::string_view defect_name(Defect defect);

/// A connected part of the surface. Triangles that share an edge belong together.
struct Body {
  int first_triangle = -1;  ///< the smallest number in it
  int triangles = 0;
  Vec3 low_m = Vec3::Zero(), high_m = Vec3::Zero();
  double volume_m3 = 0.0;  ///< after turning what runs against the rest; of an open body about its own centre
  bool is_closed = false;
  bool is_one_sided = false;
  bool is_inside_out = false;  ///< closed, of negative volume and inside no other body
};

/// A loop of open edges.
struct Rim {
  Vec3 centre_m;
  double length_m;
  int triangle;             ///< the smallest number of those along it
  std::vector<int> points;  ///< along it; the first is not repeated at the end
  bool is_loop;             ///< it comes back to its first point
};

/// Two stretches of the surface that face each other: a thin wall (solid between them) or a slot (gas between them).
struct Narrow {
  double width_m;
  Vec3 place_m;  ///< halfway
};

struct Found {
  int count = 0;                ///< triangles, but loops for kHole and bodies for kOneSided, kInsideOut, kNested
  Vec3 place_m = Vec3::Zero();  ///< of the worst: the longest rim, the largest body, the triangle of lowest number
  double size_m = 0.0;          ///< length of that rim, longest edge of that triangle, diagonal of that body
};

struct Inspection {
  std::array<Found, kDefects> found;  ///< by Defect
  std::vector<std::uint16_t> marks;   ///< M, bit Defect k of the triangles concerned; along rims for kHole
  std::vector<int> body;              ///< M, number in bodies
  std::vector<Body> bodies;           ///< by their smallest triangle
  std::vector<int> patch;             ///< M, those joined by edges of exactly two triangles have one number
  std::vector<Rim> rims;              ///< longest first
  std::optional<Narrow> thinnest_wall, narrowest_slot;

  const Found& of(Defect defect) const { return found[static_cast<std::size_t>(defect)]; }
};

struct InspectOptions {
  bool crossings = true;  ///< the search takes about as long as all the rest
  bool narrow = true;
  double widest_m = 0.0;  ///< walls and slots are looked for up to this width; 0 = a tenth of the diagonal
};

/// Looks at every triangle; same surface, same answer for any number of threads. Duplicates are left out of everything
/// but their own count. Triangles without area count as slivers.
Inspection inspect(const Nearest& surface, const InspectOptions& options = {});

/// The surface without duplicates, with the triangles turned that run against their body, and with points of their own
/// for patches that meet in branches, so that each is closed if it was; an inside-out closed body and one-sided bodies
/// are left as they are. Triangles keep their order. Needs inspect() of the same surface.
TriangleMesh mended(const TriangleMesh& surface, const Inspection& inspection);

}  // namespace pellicle::mesh
