// How is Gmsh used without it leaking into the rest of the process? One guarded session at a time, plain data in and
// out. gmsh.h is included by gmsh_session.cpp, and by step_surface.cpp for what it does inside a session.
#pragma once

#include "mesh/triangle_mesh.h"

#include <functional>
#include <mutex>
#include <span>
#include <string>
#include <vector>

namespace pellicle::mesh {

/// Edge length wanted: `inside` in the box, growing linearly with the distance from it to `outside` at `growth`.
struct BoxSize {
  double inside;
  double outside;
  double growth;  ///< distance over which the size grows; 0 = at once
  Vec2 low, high;

  double at(const Vec2& p) const;
};

/// Gmsh's own tolerances are absolute (1e-8), so lengths here are in a unit of the caller's that makes the shape about
/// 1 across.
struct PlaneMesh {
  std::vector<Vec2> points;  ///< every one used by a triangle
  std::vector<Triangle> triangles;
};

/// Gmsh from initialize to finalize. Waits for any other session of the process; leaves the number of OpenMP threads
/// and the locale as it found them, writes nothing to stdout and reads no user settings. Lives and dies on one thread.
class GmshSession {
 public:
  GmshSession();
  ~GmshSession();
  GmshSession(const GmshSession&) = delete;
  GmshSession& operator=(const GmshSession&) = delete;

  /// Frontal Delaunay mesh of the inside of a simple polygon, whose edges are kept as they are. Throws Error
  /// (geometry) with Gmsh's own words if it fails, or if it quietly makes no triangles.
  PlaneMesh mesh_polygon(std::span<const Vec2> polygon, const BoxSize& size);

  /// Runs calls of Gmsh's own. Whatever they throw becomes Error (geometry), and the library is usable again.
  void work(const std::function<void()>& calls);

 private:
  void open();
  void close() noexcept;

  std::unique_lock<std::mutex> only_;
  int threads_before_;
  std::string locale_before_;
};

}  // namespace pellicle::mesh
