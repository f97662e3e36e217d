// The membrane kernels for any processor.
#define PELLICLE_KERNEL_SET kernels_baseline
#include "solver/sheet/kernel/passes.h"

namespace pellicle::sheet {

Kernels baseline_kernels() { return kernels_baseline::table("baseline"); }

}  // namespace pellicle::sheet
