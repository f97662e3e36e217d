// Which of the kernels suit this processor?
#include "solver/sheet/kernel/choose.h"

namespace pellicle::sheet {

Kernels baseline_kernels();
#if defined(__x86_64__)
Kernels avx2_kernels();
Kernels avx512_kernels();
#endif

std::vector<Kernels> available_kernels() {
  std::vector<Kernels> all{baseline_kernels()};
#if defined(__x86_64__)
  if (__builtin_cpu_supports("avx2")) all.push_back(avx2_kernels());
  if (__builtin_cpu_supports("avx512f") && __builtin_cpu_supports("avx512dq") && __builtin_cpu_supports("avx512vl"))
    all.push_back(avx512_kernels());
#endif
  return all;
}

const Kernels& best_kernels() {
  static const Kernels best = available_kernels().back();
  return best;
}

}  // namespace pellicle::sheet
