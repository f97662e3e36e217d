// Is every element worked off once, beside a neighbour, and the same after it has been turned?
#include "solver/sheet/element_pairs.h"

#include "mesh/sheet_mesher.h"
#include "solver/sheet/sheet_state.h"
#include "tests/solver/sheet/sheet_samples.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <random>
#include <vector>

namespace pellicle::sheet {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

SheetState disc() {
  const mesh::Outline outline{mesh::Disc{0.1}, mesh::Vec2::Zero()};
  return flat_sheet(mesh::mesh_sheet(outline, {2e-3, 2e-3, {}}), 1e-3, 1200.0, 0.0);
}

std::vector<ElementPair> pairs_of(const SheetState& s) { return pair_up(s.triangles, s.first_corner, s.corners); }

int corner(const SheetState& s, const TurnedElement& t, int k) {
  return s.triangles[at(t.element)][at((t.turn + k) % 3)];
}

TEST(ElementPairs, EveryElementIsThereOnceAndFewAreAlone) {
  for (const SheetState& s : {disc(), square_sheet(12, 0.3), square_sheet(1, 0.0)}) {
    std::vector<int> seen(s.triangles.size(), 0);
    int alone = 0, smallest = -1;
    for (const ElementPair& pair : pairs_of(s)) {
      ASSERT_GE(pair[0].element, 0);
      ++seen[at(pair[0].element)];
      if (pair[1].element < 0) {
        smallest = alone++ == 0 ? -1 : smallest;  // those without a partner come last, in their order
      } else {
        EXPECT_EQ(alone, 0);
        ++seen[at(pair[1].element)];
        EXPECT_LT(pair[0].element, pair[1].element);
      }
      EXPECT_GT(pair[0].element, smallest);
      smallest = pair[0].element;
    }
    EXPECT_TRUE(std::ranges::all_of(seen, [](int times) { return times == 1; }));
    EXPECT_LE(alone, 0.01 * static_cast<double>(seen.size()) + 1.0);
  }
}

TEST(ElementPairs, PartnersShareTheEdgeBetweenTheFirstAndTheThirdPlace) {
  const SheetState s = disc();
  int partners = 0;
  for (const ElementPair& pair : pairs_of(s)) {
    if (pair[1].element < 0) continue;
    EXPECT_EQ(corner(s, pair[0], 0), corner(s, pair[1], 0));  // o
    EXPECT_EQ(corner(s, pair[0], 2), corner(s, pair[1], 1));  // q
    EXPECT_NE(corner(s, pair[0], 1), corner(s, pair[1], 2));  // p, r
    ++partners;
  }
  EXPECT_GT(partners, 1000);
}

// tr(M G), what the law asks, does not depend on the corner the edges start from.
TEST(ElementPairs, TurnedElementIsStretchedAsBefore) {
  std::mt19937 random(1);
  std::uniform_real_distribution<double> share(-1.0, 1.0);
  const SheetState s = disc();
  for (int e = 0; e < s.elements(); e += 7) {
    Vec3 x[3];
    for (Vec3& p : x) p = 1e-3 * Vec3{share(random), share(random), share(random)};
    double first = 0.0;
    for (int turn = 0; turn < 3; ++turn) {
      const Rest r = turned(s.rest[at(e)], turn);
      const Vec3 d1 = x[(turn + 1) % 3] - x[turn], d2 = x[(turn + 2) % 3] - x[turn];
      const double a =
          r.m11_per_m2 * d1.squaredNorm() + 2.0 * r.m12_per_m2 * d1.dot(d2) + r.m22_per_m2 * d2.squaredNorm();
      if (turn == 0) first = a;
      EXPECT_NEAR(a, first, 1e-13 * first);  // some ten roundings of terms not much larger than their sum
      EXPECT_EQ(r.inverse_det_per_m4, s.rest[at(e)].inverse_det_per_m4);
      EXPECT_EQ(r.volume_m3, s.rest[at(e)].volume_m3);
    }
  }
}

}  // namespace
}  // namespace pellicle::sheet
