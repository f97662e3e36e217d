// How many threads does a test run with? As many as it says, and afterwards as many as before.
#pragma once

#include <omp.h>

namespace pellicle {

/// For as long as it lives, parallel regions have this many threads.
class Threads {
 public:
  explicit Threads(int count) : before_(omp_get_max_threads()) { omp_set_num_threads(count); }
  ~Threads() { omp_set_num_threads(before_); }
  Threads(const Threads&) = delete;
  Threads& operator=(const Threads&) = delete;

 private:
  int before_;
};

}  // namespace pellicle
