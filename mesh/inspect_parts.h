// Which parts of an inspection stand in files of their own? Private to mesh/inspect*.cpp.
#pragma once

#include "mesh/inspect.h"

#include <cstdint>
#include <span>
#include <vector>

namespace pellicle::mesh::inspect_parts {

inline std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// Lengths below this share of the diagonal are round-off: some ten steps of the 32-bit coordinates that files hold.
constexpr double kRoundOff = 1e-6;

struct Corners {
  Vec3 a, b, c;
};
inline Corners corners(const TriangleMesh& m, int triangle) {
  const Triangle& t = m.triangles[at(triangle)];
  return {m.points_m[at(t[0])], m.points_m[at(t[1])], m.points_m[at(t[2])]};
}

/// 1 for each triangle that another one cuts through. Two triangles that share an edge are not looked at, nor those
/// that only touch or lie in one plane.
std::vector<char> crossings(const Nearest& surface, std::span<const char> left_out, double round_off_m);

/// Smallest distance, no more than `widest_m`, between two stretches that face each other: `outside` = across gas, else
/// through the solid. `turned`: 1 for triangles whose direction is to be taken the other way.
std::optional<Narrow> narrowest(const Nearest& surface, bool outside, std::span<const char> left_out,
                                std::span<const char> turned, double widest_m, double round_off_m);

/// How many closed bodies a place lies in, not counting `own`: by what a ray upwards crosses.
int bodies_around(const Nearest& surface, const Inspection& inspection, const Vec3& place_m, int own,
                  double round_off_m);

}  // namespace pellicle::mesh::inspect_parts
