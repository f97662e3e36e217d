// Which part of the sheet is worked off at a time? Blocks of nodes that stay in a core's own cache.
//
// docs/theory/kernels.md. A block owns its nodes and knows every pair of elements that touches one of them, in an order
// that is the same for all blocks. So one pass over the blocks gives every node its force, its parts added in that
// order: the same bits for any blocks and any number of threads. Pairs on the seam of two blocks are worked off by
// both.
#pragma once

#include "mesh/triangle_mesh.h"
#include "solver/sheet/element_pairs.h"
#include "solver/sheet/kernel/kernel.h"
#include "solver/sheet/rest.h"

#include <array>
#include <span>
#include <vector>

namespace pellicle::sheet {

class SheetBlocks {
 public:
  /// The mesh as the blocks see it: triangles, what they keep, and the corners around each node (SheetState).
  struct Mesh {
    std::span<const mesh::Triangle> triangles;
    std::span<const Rest> rest;
    std::span<const int> first_corner, corners;
  };

  /// Nodes 0 ... nodes-1, neighbours in number being neighbours in space.
  void start(int nodes);
  /// New nodes, each in the middle of an edge between old ones, take their place beside one of them.
  void insert(std::span<const std::array<int, 2>> ends);
  /// Cuts the nodes into blocks of so many. 0: as many as suit the size of the sheet.
  void cut(const Mesh& mesh, int nodes_per_block = 0);

  /// Other numbers for the elements, one a triangle, of the mesh that was cut last.
  void renew(std::span<const Rest> rest);

  int count() const { return static_cast<int>(blocks_.size()); }
  BlockView view(int block) const;

  /// Room for so many threads, and that of one of them. New after the sheet has been cut, else kept.
  void make_room(int threads);
  ScratchView room(int thread);

 private:
  struct Block {
    std::vector<int> nodes;  ///< its own, then the others that its pairs touch
    int own = 0;
    bool in_a_row = false;  ///< own nodes have numbers in a row
    std::vector<Group> groups;
    std::vector<ElementPair> pairs;  ///< in the order of the groups' lanes
  };
  struct alignas(64) Line {
    double numbers[8];
  };
  class Builder;

  std::vector<int> order_;  ///< the nodes, neighbours beside each other
  std::vector<Block> blocks_;
  int most_local_ = 0;
  std::vector<std::vector<Line>> rooms_;
};

}  // namespace pellicle::sheet
