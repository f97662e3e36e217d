// What does a sharp mould do to the inside of a triangle? Its corners and edges stop the nodes around it.
//
// docs/theory/contact.md, "Corners and edges". Nodes alone would let an edge cut through the flat triangle between
// them. Here every place on a crease of the mould has one triangle, the nearest. When it stands through that triangle
// as deep as is allowed, the triangle's nodes that do not lie on the mould themselves meet a plane: they may not move
// on against the triangle's normal.
#pragma once

#include "solver/forming/lot_nodes.h"
#include "solver/forming/snapshot.h"
#include "solver/mould/creases.h"
#include "solver/mould/rigid_mould.h"
#include "solver/sheet/kernel/motion.h"
#include "solver/sheet/sheet_state.h"

#include <cstdint>
#include <optional>
#include <vector>

namespace pellicle::forming {

/// A crease may stand through a triangle by this share of its thickness; twice that is reported as too much.
inline constexpr double kAllowedDepth = 0.05;

/// A node that has moved by less than this share of the bought thickness counts as standing: a fraction of what pairs
/// are kept ahead of touching.
inline constexpr double kStands = 0.005;

/// Which nodes are farther than that from where they were? `from_m` may be shorter: the rest has moved. N.
std::vector<char> moved_since(const sheet::SheetState& s, const std::vector<mesh::Vec3>& from_m, double stands_m);

/// How deep the worst place of the mould stands through the sheet.
struct Penetration {
  double depth_m = 0.0;       ///< along the triangle's normal
  double of_thickness = 0.0;  ///< over the triangle's thickness
  mesh::Vec3 place_m = mesh::Vec3::Zero();
};

/// A crease near a triangle.
struct Beside {
  int crease, triangle;
  double ahead_m;     ///< farther under the triangle it only matters as nearer to this than to another
  double distance_m;  ///< at least, until it is measured
  bool pairs;         ///< with this triangle, if it is the nearest: near enough, and not past its edge
};

/// Room in which pairs are found, kept so that nobody has to ask for memory each time.
struct PairRoom {
  std::vector<double> speed_sq;           ///< a node, m^2/s^2
  std::vector<char> in_reach;             ///< a crease
  std::vector<float> surely_m;            ///< a crease: some triangle is no farther
  std::vector<std::vector<Beside>> near;  ///< a thread
  std::vector<Beside> nearest;            ///< a crease; triangle -1: none
  std::vector<int> creases;               ///< those that have one
};

class CornerContact {
 public:
  /// creases may be null: no mould, or one without edges. `sticks`: what lands stays where it landed.
  CornerContact(const mould::Creases* creases, bool sticks) : creases_(creases), sticks_(sticks) {}

  /// Finds which crease is nearest to which triangle, for as long as nothing moves by more than `horizon_s` of its
  /// present motion. Pairs stay where no node has moved by more than kStands since they were found, at paired_at_m (N
  /// or empty: never).
  void find(const sheet::SheetState& s, const std::vector<mould::Neighbourhood>& near, double horizon_s,
            std::vector<Poke>& pokes, std::vector<mesh::Vec3>& paired_at_m);

  /// After a refinement: what is known around a triangle is known around its parts, parent[e] being what e was cut
  /// from.
  void follow(const std::vector<int>& parent);

  /// Takes the pairs as they stand: after a refinement, or from a snapshot.
  void group(const std::vector<Poke>& pokes, int triangles);

  /// The plane that each triangle with a crease holds against its nodes in this step, of length dt.
  void begin_step(const sheet::SheetState& s, const std::vector<Touch>& touch, double dt_s);

  /// What the node touches is other than in the step before, or not: begin_step wants to know.
  void stir(int node, bool other) {
    if (creases_ != nullptr) stirred_[static_cast<std::size_t>(node)] = other;
  }

  /// The same, of nodes of a lot whose touch is as it was.
  void calm(int first, sheet::LotNodes nodes) {
    if (creases_ != nullptr) clear_flags(stirred_.data() + first, nodes);
  }

  bool is_stirred(int node) const { return creases_ != nullptr && stirred_[static_cast<std::size_t>(node)] != 0; }

  /// Is there such a plane at the node?
  bool concerns(int node) const { return held_in_[static_cast<std::size_t>(node)] == step_; }
  /// At which of the nodes of a lot?
  sheet::LotNodes concerned(int first) const {
    sheet::LotNodes nodes = 0;
    if (lot_held_in_[static_cast<std::size_t>(first / sheet::kLot)] != step_) return nodes;
    for (int k = 0; k < sheet::kLot; ++k) nodes |= (concerns(first + k) ? 1U : 0U) << k;
    return nodes;
  }
  /// A node that stands on a plane of the mould with this normal is held by that alone, whatever edges there are.
  bool leaves_to_mould(const sheet::SheetState& s, int node, const mesh::Vec3& normal) const;
  /// The plane that holds the node for the triangles around it, if one must; `own` are the mould's, those within reach
  /// among them.
  std::optional<mould::Plane> plane_at(const sheet::SheetState& s, int node, double reach_m,
                                       const mould::Planes& own) const;

 private:
  /// Where the crease of a close pair is, and how deep it may stand through the triangle.
  struct Place {
    mesh::Vec3 point_m;
    double allowed_m;
  };
  /// The close pairs of one triangle, `from` to `to` in places_. One line of memory.
  struct alignas(64) Group {
    int triangle, from, to;
    bool holds = false;      ///< some of them must be held
    bool settled = false;    ///< seen while it stood: it holds what it holds until a node moves or touches otherwise
    double unseen_m = -1.0;  ///< nothing of it is nearer to being met than this, which nodes use up as they move
    double gap_m = 0.0;      ///< to the deepest of those, along the triangle's normal
    mesh::Vec3 normal = mesh::Vec3::Zero();
  };
  void look(const sheet::SheetState& s, const std::vector<Touch>& touch, double dt_s, Group& group);
  /// A box without convex creases that turn on this radius or less.
  struct Bare {
    mesh::Vec3 low_m = mesh::Vec3::Constant(1.0), high_m = mesh::Vec3::Constant(-1.0);
    double radius_m = -1.0;
    int rest = 0;  ///< so often it is not looked for, after some have been found
  };
  bool is_left_to(const mesh::Vec3& of_node, const mesh::Vec3& of_mould) const;
  bool is_bare(const mesh::Vec3& low_m, const mesh::Vec3& high_m, double radius_m, double more_m, Bare& known) const;

  const mould::Creases* creases_;
  bool sticks_;
  PairRoom room_;
  std::vector<Bare> bare_;                 ///< a triangle: around where it was; saves time, changes no result
  std::vector<Place> places_;              ///< by triangle
  std::vector<Group> groups_;              ///< by triangle
  std::vector<int> group_of_;              ///< M, -1: none
  std::vector<char> stirred_;              ///< N
  std::vector<std::int64_t> held_in_;      ///< N, the last step in which a triangle at the node held a plane
  std::vector<std::int64_t> lot_held_in_;  ///< a lot, of which the last is short: likewise, of any of its nodes
  std::int64_t step_ = 0;
};

/// Worst place of all creases that face the sheet. For reports, not for the loop.
Penetration deepest(const sheet::SheetState& s, const mould::Creases& creases);

}  // namespace pellicle::forming
