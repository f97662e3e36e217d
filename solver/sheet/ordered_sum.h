// How are many numbers added so that the bits do not depend on the number of threads? In fixed blocks, block by block.
#pragma once

#include <algorithm>
#include <vector>

namespace pellicle::sheet {

/// Sums f(i) for i in [0, n). T needs a zero-initialising default constructor and +=. The partial sums are kept between
/// calls, so a call inside the loop allocates nothing after the first. `f` may also do the node's work.
template <class T>
class OrderedSum {
 public:
  template <class F>
  T operator()(int n, F&& f) {
    const int blocks = (n + kBlock - 1) / kBlock;
    partial_.resize(static_cast<std::size_t>(blocks));
#pragma omp parallel for schedule(static, 1)  // dealt out in turn: what stands still lies together
    for (int k = 0; k < blocks; ++k) {
      T sum{};
      const int end = std::min(n, (k + 1) * kBlock);
      for (int i = k * kBlock; i < end; ++i) sum += f(i);
      partial_[static_cast<std::size_t>(k)] = sum;
    }
    T total{};
    for (const T& p : partial_) total += p;
    return total;
  }

 private:
  static constexpr int kBlock = 512;  ///< fixed: it decides the bits
  std::vector<T> partial_;
};

}  // namespace pellicle::sheet
