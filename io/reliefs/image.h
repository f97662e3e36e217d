// What heights does a picture hold? A 16-bit grey PNG: black is the land, white stands `depth` above it.
#pragma once

#include "mesh/height_map.h"

#include <string>
#include <string_view>

namespace pellicle::reliefs {

constexpr int kLargestSide_px = 16'384;  // 330 mm at 0.02 mm

/// Height of a pixel = depth times its grey over 65535; the picture's lowest row is the patch's lowest. One cell a
/// pixel, `pixel_m` wide. Greys are taken as they stand, whatever gamma the file claims. Fewer than 16 bits, colour,
/// transparency, more than kLargestSide_px a side or kMostCells pixels, a single grey all over, and files that are
/// broken anywhere are refused: Error (geometry) that names the file and, for broken pixels, the row.
mesh::HeightMap read_image(std::string_view bytes, const std::string& name, double pixel_m, double depth_m,
                           bool periodic);

}  // namespace pellicle::reliefs
