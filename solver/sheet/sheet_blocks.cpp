// Which part of the sheet is worked off at a time?
#include "solver/sheet/sheet_blocks.h"

#include "mesh/check.h"
#include "solver/sheet/ordered_sum.h"

#include <algorithm>
#include <limits>
#include <numeric>

namespace pellicle::sheet {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// In which order elements are worked off, and so the parts of a node added: of every 64 in a row each eighth, from the
/// first, then each eighth from the second, and so on. Elements beside each other in the sheet, which have nodes in
/// common, so come into different groups: a sum that has just been written is slow to read again. It depends on the
/// number of the element alone, so it is the same in every block.
unsigned turn(int element) {
  const auto e = static_cast<unsigned>(element);
  return (e & ~63U) | (e & 7U) << 3U | (e >> 3U & 7U);
}

}  // namespace

void SheetBlocks::start(int nodes) {
  order_.resize(at(nodes));
  std::iota(order_.begin(), order_.end(), 0);
}

void SheetBlocks::insert(std::span<const std::array<int, 2>> ends) {
  // The new nodes of each old one as a list: first_new of the old, next_new of the new, ascending.
  const std::size_t old_nodes = order_.size();
  std::vector<int> first_new(old_nodes, -1), next_new(ends.size(), -1), order;
  for (std::size_t k = ends.size(); k-- > 0;) {
    int& first = first_new[at(ends[k][0])];
    next_new[k] = first;
    first = static_cast<int>(k);
  }
  order.reserve(old_nodes + ends.size());
  for (const int old : order_) {
    order.push_back(old);
    for (int k = first_new[at(old)]; k >= 0; k = next_new[at(k)]) order.push_back(static_cast<int>(old_nodes) + k);
  }
  order_ = std::move(order);
}

/// Fills blocks, one after the other; each thread has one.
namespace {

void put_rest(Group& group, std::size_t lane, const Rest& r) {
  group.m11_per_m2[lane] = r.m11_per_m2, group.m12_per_m2[lane] = r.m12_per_m2;
  group.m22_per_m2[lane] = r.m22_per_m2, group.inverse_det_per_m4[lane] = r.inverse_det_per_m4;
  group.volume_m3[lane] = r.volume_m3;
}

}  // namespace

class SheetBlocks::Builder {
 public:
  explicit Builder(const Mesh& mesh)
      : mesh_(mesh), local_(mesh.first_corner.size() - 1, -1), seen_(mesh.triangles.size(), -1) {}

  void fill(Block& block, int number, std::span<const int> own) {
    block.nodes.assign(own.begin(), own.end());
    block.own = static_cast<int>(own.size());
    block.in_a_row = std::ranges::adjacent_find(own, [](int a, int b) { return b != a + 1; }) == own.end();
    for (int k = 0; k < block.own; ++k) local_[at(block.nodes[at(k)])] = k;
    collect(own, number);
    block.groups.assign((elements_.size() + kGroup - 1) / kGroup, Group{});
    for (std::size_t k = 0; k < elements_.size(); ++k) put(block, elements_[k], k);
    fill_up(block);
    block.elements = elements_;
    ensure(kSums * block.nodes.size() <= std::numeric_limits<std::uint16_t>::max(),
           "16 bits number the nodes of a block");
    for (const int node : block.nodes) local_[at(node)] = -1;
  }

 private:
  /// The elements around own nodes, each once, in their order.
  void collect(std::span<const int> own, int number) {
    elements_.clear();
    for (const int node : own)
      for (int k = mesh_.first_corner[at(node)]; k < mesh_.first_corner[at(node) + 1]; ++k) {
        const int element = mesh_.corners[at(k)] / 3;
        if (seen_[at(element)] == number) continue;
        seen_[at(element)] = number;
        elements_.push_back(element);
      }
    std::sort(elements_.begin(), elements_.end(), [](int a, int b) { return turn(a) < turn(b); });
  }

  void put(Block& block, int element, std::size_t place) {
    Group& group = block.groups[place / kGroup];
    const std::size_t lane = place % kGroup;
    put_rest(group, lane, mesh_.rest[at(element)]);
    for (std::size_t c = 0; c < 3; ++c) {
      const int node = mesh_.triangles[at(element)][c];
      int& local = local_[at(node)];
      if (local < 0) {
        local = static_cast<int>(block.nodes.size());
        block.nodes.push_back(node);
      }
      group.corner[c][lane] = static_cast<std::uint16_t>(kSums * local);
    }
  }

  void fill_up(Block& block) const {
    const auto nobody = static_cast<std::uint16_t>(kSums * block.nodes.size());
    for (std::size_t k = elements_.size(); k < kGroup * block.groups.size(); ++k)
      for (auto& corner : block.groups[k / kGroup].corner) corner[k % kGroup] = nobody;
  }

  const Mesh& mesh_;
  std::vector<int> local_;  ///< of each node of the sheet, its number in the block at hand, or -1
  std::vector<int> seen_;   ///< of each element, the last block that has it
  std::vector<int> elements_;
};

void SheetBlocks::cut(const Mesh& mesh, int nodes_per_block) {
  const int nodes = static_cast<int>(order_.size());
  const int size = nodes_per_block > 0 ? nodes_per_block : nodes_dealt(nodes);
  blocks_.resize(at((nodes + size - 1) / size));
#pragma omp parallel
  {
    Builder builder(mesh);
#pragma omp for schedule(dynamic)
    for (int k = 0; k < count(); ++k)
      builder.fill(blocks_[at(k)], k, std::span(order_).subspan(at(k * size), at(std::min(size, nodes - k * size))));
  }
  most_local_ = 0;
  for (const Block& block : blocks_) most_local_ = std::max(most_local_, static_cast<int>(block.nodes.size()));
}

void SheetBlocks::renew(std::span<const Rest> rest) {
#pragma omp parallel for schedule(static)
  for (int k = 0; k < count(); ++k) {
    Block& block = blocks_[at(k)];
    for (std::size_t i = 0; i < block.elements.size(); ++i)
      put_rest(block.groups[i / kGroup], i % kGroup, rest[at(block.elements[i])]);
  }
}

BlockView SheetBlocks::view(int block) const {
  const Block& b = blocks_[at(block)];
  return {b.nodes.data(), b.own,           static_cast<int>(b.nodes.size()),
          b.in_a_row,     b.groups.data(), static_cast<int>(b.groups.size())};
}

void SheetBlocks::make_room(int threads) {
  // A line a sum, half a line a place, an eighth of one a flag is more than enough.
  const std::size_t lines = 2 * at(most_local_ + 1) + 1;
  if (rooms_.size() < at(threads)) rooms_.resize(at(threads));
  for (auto& room : rooms_)
    if (room.size() != lines) room.assign(lines, Line{});
}

ScratchView SheetBlocks::room(int thread) {
  Line* const sums = rooms_[at(thread)].data();
  Line* const places = sums + most_local_ + 1;
  Line* const flags = places + (most_local_ + 2) / 2;
  return {places->numbers, sums->numbers, reinterpret_cast<char*>(flags)};
}

}  // namespace pellicle::sheet
