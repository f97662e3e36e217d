// The membrane kernels for x86-64 processors with AVX2.
#if defined(__x86_64__)
#define PELLICLE_KERNEL_SET kernels_avx2
#include "solver/sheet/kernel/passes.h"

namespace pellicle::sheet {

Kernels avx2_kernels() { return kernels_avx2::table("avx2"); }

}  // namespace pellicle::sheet
#endif
