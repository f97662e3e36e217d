// What does a sharp mould do to the inside of a triangle? Its corners and edges stop the nodes around it.
//
// docs/theory/contact.md, "Corners and edges". Nodes alone would let an edge cut through the flat triangle between
// them. Here every place on a crease of the mould has one triangle, the nearest. When it stands through that triangle
// as deep as is allowed, the triangle's nodes that do not lie on the mould themselves meet a plane: they may not move
// on against the triangle's normal.
#pragma once

#include "solver/forming/snapshot.h"
#include "solver/mould/creases.h"
#include "solver/mould/rigid_mould.h"
#include "solver/sheet/sheet_state.h"

#include <array>
#include <limits>
#include <vector>

namespace pellicle::forming {

/// A crease may stand through a triangle by this share of its thickness; twice that is reported as too much.
inline constexpr double kAllowedDepth = 0.05;

/// How deep the worst place of the mould stands through the sheet.
struct Penetration {
  double depth_m = 0.0;       ///< along the triangle's normal
  double of_thickness = 0.0;  ///< over the triangle's thickness
  mesh::Vec3 place_m = mesh::Vec3::Zero();
};

class CornerContact {
 public:
  /// creases may be null: no mould, or one without edges.
  explicit CornerContact(const mould::Creases* creases) : creases_(creases) {}

  /// Finds which crease is nearest to which triangle, for as long as nothing moves by more than `horizon_s` of its
  /// present motion. Where no node has moved since the last time, pairs stay; moved is put back to 0. Both empty: all
  /// is looked at, as after a refinement.
  void find(const sheet::SheetState& s, const std::vector<mould::Neighbourhood>& near, double horizon_s,
            std::vector<Poke>& pokes, std::vector<char>& moved);

  /// The plane that each triangle with a crease holds against its nodes in this step, of length dt.
  void begin_step(const sheet::SheetState& s, const std::vector<Touch>& touch, const std::vector<Poke>& pokes,
                  double dt_s);

  /// Is there such a plane at the node?
  bool concerns(int node) const { return near_node_[static_cast<std::size_t>(node)] != 0; }
  /// Adds the plane that holds the node for the triangles around it; `planes` are the mould's own within reach.
  void add_plane(const sheet::SheetState& s, int node, double reach_m, mould::Planes& planes) const;

 private:
  /// What was last seen of a poke; good until the triangle's nodes have used up `unseen_m`.
  struct Look {
    mesh::Vec3 normal;
    double gap_m = 0.0;
    std::array<double, 3> weight{};
    double size_m = 0.0;
    double unseen_m = -1.0;
    bool has_left = false;  ///< the place is beside the triangle now
  };
  void look(const sheet::SheetState& s, const Poke& poke, double dt_s, Look& look) const;

  const mould::Creases* creases_;
  std::vector<Poke> owners_;          ///< one a crease, while pairs are found
  std::vector<Look> looks_;           ///< one a poke
  std::vector<mould::Plane> planes_;  ///< one a triangle that has any, by the order of `pokes`
  std::vector<int> plane_of_;         ///< M, -1: none
  std::vector<int> marked_;           ///< triangles that have one
  std::vector<char> near_node_;       ///< N
  std::vector<int> marked_nodes_;     ///< nodes of those triangles
};

/// Worst place of all creases that face the sheet. For reports, not for the loop.
Penetration deepest(const sheet::SheetState& s, const mould::Creases& creases);

}  // namespace pellicle::forming
