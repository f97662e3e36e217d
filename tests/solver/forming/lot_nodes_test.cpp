// Are the flags of a lot's nodes the bits they stand for?
#include "solver/forming/lot_nodes.h"

#include <gtest/gtest.h>

#include <array>
#include <vector>

namespace pellicle::forming {
namespace {

TEST(LotNodes, EachSetOfNodesIsItsFlagsAndBack) {
  int sets = 0;
  for (sheet::LotNodes nodes = 0; nodes <= sheet::kWholeLot; ++nodes, ++sets) {
    std::array<char, sheet::kLot> flags{}, rest;
    rest.fill(1);
    for (std::size_t k = 0; k < flags.size(); ++k) flags[k] = static_cast<char>(nodes >> k & 1U);
    EXPECT_EQ(flags_of(flags.data()), flags_with(nodes));
    EXPECT_EQ(nodes_with(flags_of(flags.data())), nodes);
    clear_flags(rest.data(), nodes);
    EXPECT_EQ(nodes_with(flags_of(rest.data())), sheet::kWholeLot & ~nodes);
    std::vector<int> visited, expected;
    each_of(40, nodes, [&](int i) { visited.push_back(i); });
    for (int k = 0; k < sheet::kLot; ++k)
      if (flags[static_cast<std::size_t>(k)] != 0) expected.push_back(40 + k);
    EXPECT_EQ(visited, expected);
  }
  EXPECT_EQ(sets, 256);
  EXPECT_EQ(first_of_lot(3), 7U);
}

}  // namespace
}  // namespace pellicle::forming
