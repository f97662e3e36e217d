// How are many numbers added so that the bits do not depend on the number of threads? In fixed blocks, block by block.
#pragma once

#include "solver/sheet/kernel/motion.h"

#include <algorithm>
#include <vector>

namespace pellicle::sheet {

/// Every loop over the nodes deals them out in turn by so many, so that a core meets the same nodes again in the next
/// loop, with what it has of them in its own cache; and what stands still, which lies together, is shared alike. Blocks
/// of the membrane pass are as large; on a larger sheet their seams are shorter. Sums are made of kSumNodes each,
/// whatever the sheet: that decides the bits.
inline constexpr int kSumNodes = 512;
constexpr int nodes_dealt(int nodes) {
  constexpr int kWanted = 32;  // deals: some for each of many threads
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

/// The same for what is added lane by lane, node i to lane i % kLot (kernel/motion.h): f(first, count, sums) works off
/// the nodes of one lot. Lanes are added up last, by `total`.
template <class Sums>
class OrderedLots {
 public:
  template <class F>
  Sums operator()(int n, F&& f) {
    const int blocks = (n + kSumNodes - 1) / kSumNodes, deal = nodes_dealt(n) / kSumNodes;
    partial_.resize(static_cast<std::size_t>(blocks));
#pragma omp parallel for schedule(static, deal)
    for (int k = 0; k < blocks; ++k) {
      Sums sums{};
      const int end = std::min(n, (k + 1) * kSumNodes);
      for (int i = k * kSumNodes; i < end; i += kLot) f(i, std::min(kLot, end - i), sums);
      partial_[static_cast<std::size_t>(k)] = sums;
    }
    Sums all{};
    for (const Sums& p : partial_)
      for (int field = 0; field < Sums::kFields; ++field)
        for (int lane = 0; lane < kLot; ++lane) all.lane[field][lane] += p.lane[field][lane];
    return all;
  }

 private:
  static_assert(kSumNodes % kLot == 0);
  std::vector<Sums> partial_;
};

template <class Sums>
double total(const Sums& sums, typename Sums::Field field) {
  double sum = 0.0;
  for (const double x : sums.lane[field]) sum += x;
  return sum;
}

}  // namespace pellicle::sheet
