// What time is it, and how many threads work?
#pragma once

#include "mesh/check.h"

#include <omp.h>

#include <chrono>

namespace pellicle {

inline double now_s() {
  return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count();
}

inline void use_threads(int threads) {
  omp_set_num_threads(threads);
  int team = 0;
#pragma omp parallel
#pragma omp single
  team = omp_get_num_threads();
  ensure(team == threads, "the bench gets the threads it asks for");
}

}  // namespace pellicle
