// How is a picture packed? As PNG, the bytes alone.
#pragma once

#include "io/report/raster.h"

#include <cstdint>
#include <vector>

namespace pellicle::report {

/// Eight bits a channel, sRGB, transparent where nothing was drawn.
std::vector<std::uint8_t> png(const Picture& picture);

}  // namespace pellicle::report
