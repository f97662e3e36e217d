// How are many numbers added so that the bits do not depend on the number of threads? In fixed blocks, block by block.
#pragma once

#include <algorithm>
#include <vector>

namespace pellicle::sheet {

/// Every loop over the nodes deals them out in turn by so many, so that a core meets the same nodes again in the next
/// loop, with what it has of them in its own cache; and what stands still, which lies together, is shared alike. Blocks
/// of the membrane pass are as large; on a larger sheet their seams are shorter. Sums are made of kSumNodes each,
/// whatever the sheet: that decides the bits.
inline constexpr int kSumNodes = 512;
constexpr int nodes_dealt(int nodes) {
  constexpr int kWanted = 64;  // deals: some for each of many threads
  return kSumNodes * std::clamp(nodes / (kWanted * kSumNodes), 1, 4);
}

/// Sums f(i) for i in [0, n). T needs a zero-initialising default constructor and +=. The partial sums are kept between
/// calls, so a call inside the loop allocates nothing after the first. `f` may also do the node's work.
template <class T>
class OrderedSum {
 public:
  template <class F>
  T operator()(int n, F&& f) {
    const int blocks = (n + kSumNodes - 1) / kSumNodes, deal = nodes_dealt(n) / kSumNodes;
    partial_.resize(static_cast<std::size_t>(blocks));
#pragma omp parallel for schedule(static, deal)
    for (int k = 0; k < blocks; ++k) {
      T sum{};
      const int end = std::min(n, (k + 1) * kSumNodes);
      for (int i = k * kSumNodes; i < end; ++i) sum += f(i);
      partial_[static_cast<std::size_t>(k)] = sum;
    }
    T total{};
    for (const T& p : partial_) total += p;
    return total;
  }

 private:
  std::vector<T> partial_;
};

}  // namespace pellicle::sheet
