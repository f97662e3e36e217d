// The membrane kernels for x86-64 processors with AVX-512.
#if defined(__x86_64__)
#define PELLICLE_KERNEL_SET kernels_avx512
#include "solver/sheet/kernel/passes.h"

namespace pellicle::sheet {

Kernels avx512_kernels() { return kernels_avx512::table("avx512"); }

}  // namespace pellicle::sheet
#endif
