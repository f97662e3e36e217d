// Which of the kernels suit this processor?
#pragma once

#include "solver/sheet/kernel/kernel.h"

#include <vector>

namespace pellicle::sheet {

/// All that this processor can run, the fastest last.
std::vector<Kernels> available_kernels();

/// The fastest, looked up once.
const Kernels& best_kernels();

}  // namespace pellicle::sheet
