// Which two elements are worked off as one?
#include "solver/sheet/element_pairs.h"

namespace pellicle::sheet {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }
int next(int corner) { return (corner + 1) % 3; }
int before(int corner) { return (corner + 2) % 3; }

/// The element beyond an edge, and the corner from which the edge starts there; -1 where there is none.
struct Beyond {
  int element, corner;
};

/// Chooses partners. Who has one neighbour left takes it; else elements are asked in their order, and take the
/// neighbour that has the fewest left.
class Matching {
 public:
  Matching(std::span<const mesh::Triangle> triangles, std::span<const int> first_corner, std::span<const int> corners)
      : beyond_(triangles.size()), left_(triangles.size(), 0), partner_edge_(triangles.size(), kAlone) {
    for (int e = 0; e < count(); ++e)
      for (int c = 0; c < 3; ++c) {
        Beyond& found = beyond_[at(e)][at(c)];
        found = {-1, -1};
        const int from = triangles[at(e)][at(c)], to = triangles[at(e)][at(next(c))];
        for (int k = first_corner[at(from)]; k < first_corner[at(from) + 1]; ++k) {
          const int other = corners[at(k)] / 3, corner = corners[at(k)] % 3;
          if (triangles[at(other)][at(before(corner))] == to) found = {other, before(corner)};
        }
        left_[at(e)] += found.element >= 0;
      }
    for (int e = 0; e < count(); ++e) {
      take_lonely();
      take(e);
    }
    take_lonely();
  }

  int count() const { return static_cast<int>(beyond_.size()); }
  /// The edge an element shares with its partner, by the corner it starts from; kAlone without one.
  int partner_edge(int element) const { return partner_edge_[at(element)]; }
  Beyond beyond(int element, int edge) const { return beyond_[at(element)][at(edge)]; }
  static constexpr int kAlone = -1;

 private:
  bool is_free(int element) const { return element >= 0 && partner_edge_[at(element)] == kAlone; }

  void take_lonely() {
    while (!lonely_.empty()) {
      const int e = lonely_.back();
      lonely_.pop_back();
      take(e);
    }
  }
  void take(int e) {
    if (!is_free(e)) return;
    int best = kAlone, fewest = 4;
    for (int c = 0; c < 3; ++c) {
      const int other = beyond(e, c).element;
      if (is_free(other) && left_[at(other)] < fewest) best = c, fewest = left_[at(other)];
    }
    if (best == kAlone) return;
    const Beyond other = beyond(e, best);
    partner_edge_[at(e)] = best;
    partner_edge_[at(other.element)] = other.corner;
    tell_neighbours(e);
    tell_neighbours(other.element);
  }
  void tell_neighbours(int e) {
    for (const Beyond& b : beyond_[at(e)])
      if (is_free(b.element) && --left_[at(b.element)] == 1) lonely_.push_back(b.element);
  }

  std::vector<std::array<Beyond, 3>> beyond_;
  std::vector<int> left_;  ///< neighbours without a partner
  std::vector<int> partner_edge_;
  std::vector<int> lonely_;
};

}  // namespace

std::vector<ElementPair> pair_up(std::span<const mesh::Triangle> triangles, std::span<const int> first_corner,
                                 std::span<const int> corners) {
  const Matching matching(triangles, first_corner, corners);
  std::vector<ElementPair> pairs, alone;
  pairs.reserve(triangles.size() / 2 + 1);
  for (int e = 0; e < matching.count(); ++e) {
    const int edge = matching.partner_edge(e);
    if (edge == Matching::kAlone) {
      alone.push_back({TurnedElement{e, 0}, TurnedElement{-1, 0}});
      continue;
    }
    const Beyond other = matching.beyond(e, edge);
    // The edge runs from q to o in the first, from its corner 2 to its corner 0, and from 0 to 1 in the second.
    if (e < other.element) pairs.push_back({TurnedElement{e, next(edge)}, TurnedElement{other.element, other.corner}});
  }
  pairs.insert(pairs.end(), alone.begin(), alone.end());
  return pairs;
}

Rest turned(const Rest& r, int turn) {
  // The flat edges from corner 1 are D2 - D1 and -D1, from corner 2 they are -D2 and D1 - D2; M answers inversely. The
  // determinant stays.
  const double all = r.m11_per_m2 + 2.0 * r.m12_per_m2 + r.m22_per_m2;
  switch (turn) {
    case 1:
      return {r.m22_per_m2, -(r.m12_per_m2 + r.m22_per_m2), all, r.inverse_det_per_m4, r.volume_m3};
    case 2:
      return {all, -(r.m11_per_m2 + r.m12_per_m2), r.m11_per_m2, r.inverse_det_per_m4, r.volume_m3};
    default:
      return r;
  }
}

}  // namespace pellicle::sheet
