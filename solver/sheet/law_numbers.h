// What are the numbers of a law, for kernels that know no polymer.h?
#pragma once

#include "solver/sheet/kernel/kernel.h"
#include "solver/sheet/polymer.h"

namespace pellicle::sheet {

LawNumbers numbers_of(const Polymer& polymer);

}  // namespace pellicle::sheet
