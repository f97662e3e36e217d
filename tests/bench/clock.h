// What time is it, what has this process taken, and how many threads work?
#pragma once

#include "mesh/check.h"

#include <omp.h>
#include <sys/resource.h>

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

/// Of this process so far.
struct Taken {
  double clock_s, processor_s, most_memory_MB;
};
inline Taken taken() {
  rusage usage{};
  ::getrusage(RUSAGE_SELF, &usage);
  const auto seconds = [](const timeval& t) {
    return static_cast<double>(t.tv_sec) + 1e-6 * static_cast<double>(t.tv_usec);
  };
  return {now_s(), seconds(usage.ru_utime) + seconds(usage.ru_stime), 1e-3 * static_cast<double>(usage.ru_maxrss)};
}

}  // namespace pellicle
