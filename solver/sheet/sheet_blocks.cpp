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

/// In which order pairs are worked off, and so the parts of a node added: of every 64 in a row each eighth, from the
/// first, then each eighth from the second, and so on. Pairs beside each other in the sheet, which have nodes in
/// common, so come into different groups: a sum that has just been written is slow to read again. It depends on the
/// number of the pair alone, so it is the same in every block.
unsigned order_of(int pair) {
  const auto p = static_cast<unsigned>(pair);
  return (p & ~63U) | (p & 7U) << 3U | (p >> 3U & 7U);
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

namespace {

void put_flat(Group::Flat& flat, std::size_t lane, const Rest& r) {
  flat.m11_per_m2[lane] = r.m11_per_m2, flat.m12_per_m2[lane] = r.m12_per_m2;
  flat.m22_per_m2[lane] = r.m22_per_m2, flat.inverse_det_per_m4[lane] = r.inverse_det_per_m4;
  flat.volume_m3[lane] = r.volume_m3;
}

void put_flat(Group& group, std::size_t lane, const ElementPair& pair, std::span<const Rest> rest) {
  for (std::size_t h = 0; h < 2; ++h)
    if (pair[h].element >= 0) put_flat(group.flat[h], lane, turned(rest[at(pair[h].element)], pair[h].turn));
}

}  // namespace

/// Fills blocks, one after the other; each thread has one.
class SheetBlocks::Builder {
 public:
  Builder(const Mesh& mesh, std::span<const ElementPair> pairs, std::span<const int> pair_of)
      : mesh_(mesh),
        pairs_(pairs),
        pair_of_(pair_of),
        local_(mesh.first_corner.size() - 1, -1),
        seen_(pairs.size(), -1) {}

  void fill(Block& block, int number, std::span<const int> own) {
    block.nodes.assign(own.begin(), own.end());
    block.own = static_cast<int>(own.size());
    block.in_a_row = std::ranges::adjacent_find(own, [](int a, int b) { return b != a + 1; }) == own.end();
    for (int k = 0; k < block.own; ++k) local_[at(block.nodes[at(k)])] = k;
    collect(own, number);
    block.groups.assign((numbers_.size() + kGroup - 1) / kGroup, Group{});
    block.pairs.clear();
    for (std::size_t k = 0; k < numbers_.size(); ++k) put(block, pairs_[at(numbers_[k])], k);
    fill_up(block);
    ensure(kSums * block.nodes.size() <= std::numeric_limits<std::uint16_t>::max(),
           "16 bits number the nodes of a block");
    for (const int node : block.nodes) local_[at(node)] = -1;
  }

 private:
  /// The pairs around own nodes, each once, in their order.
  void collect(std::span<const int> own, int number) {
    numbers_.clear();
    for (const int node : own)
      for (int k = mesh_.first_corner[at(node)]; k < mesh_.first_corner[at(node) + 1]; ++k) {
        const int pair = pair_of_[at(mesh_.corners[at(k)] / 3)];
        if (seen_[at(pair)] == number) continue;
        seen_[at(pair)] = number;
        numbers_.push_back(pair);
      }
    std::sort(numbers_.begin(), numbers_.end(), [](int a, int b) { return order_of(a) < order_of(b); });
  }

  void put(Block& block, const ElementPair& pair, std::size_t place) {
    Group& group = block.groups[place / kGroup];
    const std::size_t lane = place % kGroup;
    put_flat(group, lane, pair, mesh_.rest);
    for (std::size_t c = 0; c < 3; ++c) group.corner[c][lane] = number_of(block, pair[0], c);
    group.corner[3][lane] = pair[1].element >= 0 ? number_of(block, pair[1], 2) : group.corner[0][lane];
    block.pairs.push_back(pair);
  }

  /// Of a corner, counted from where the element is turned to, as Group::corner has it.
  std::uint16_t number_of(Block& block, const TurnedElement& turned, std::size_t corner) {
    const int node = mesh_.triangles[at(turned.element)][(corner + at(turned.turn)) % 3];
    int& local = local_[at(node)];
    if (local < 0) {
      local = static_cast<int>(block.nodes.size());
      block.nodes.push_back(node);
    }
    return static_cast<std::uint16_t>(kSums * local);
  }

  void fill_up(Block& block) const {
    const auto nobody = static_cast<std::uint16_t>(kSums * block.nodes.size());
    for (std::size_t k = numbers_.size(); k < kGroup * block.groups.size(); ++k)
      for (auto& corner : block.groups[k / kGroup].corner) corner[k % kGroup] = nobody;
  }

  const Mesh& mesh_;
  std::span<const ElementPair> pairs_;
  std::span<const int> pair_of_;  ///< of each element
  std::vector<int> local_;        ///< of each node of the sheet, its number in the block at hand, or -1
  std::vector<int> seen_;         ///< of each pair, the last block that has it
  std::vector<int> numbers_;
};

void SheetBlocks::cut(const Mesh& mesh, int nodes_per_block) {
  const int nodes = static_cast<int>(order_.size());
  const int size = nodes_per_block > 0 ? nodes_per_block : nodes_dealt(nodes);
  const std::vector<ElementPair> pairs = pair_up(mesh.triangles, mesh.first_corner, mesh.corners);
  std::vector<int> pair_of(mesh.triangles.size());
  for (std::size_t k = 0; k < pairs.size(); ++k)
    for (const TurnedElement& t : pairs[k])
      if (t.element >= 0) pair_of[at(t.element)] = static_cast<int>(k);
  blocks_.resize(at((nodes + size - 1) / size));
#pragma omp parallel
  {
    Builder builder(mesh, pairs, pair_of);
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
    for (std::size_t i = 0; i < block.pairs.size(); ++i)
      put_flat(block.groups[i / kGroup], i % kGroup, block.pairs[i], rest);
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
