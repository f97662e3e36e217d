// How warm is each place of the sheet as it leaves the heater?
#pragma once

#include "solver/sheet/heat_spec.h"

#include <span>

namespace pellicle::sheet {

/// The flat sheet, for where its rim is: N nodes, M triangles, 1 = held by the clamp.
struct FlatSheet {
  std::span<const Vec2> flat_m;
  std::span<const mesh::Triangle> triangles;
  std::span<const char> on_rim;
};

/// Mean by place from the map, or start_K; within the cold rim, linear in the distance to the clamp, clamp_K at it;
/// the face towards the mould warmer than the mean by half the difference. The sheet is not kept.
StartTemperature start_temperature(const HeatSpec& heat, const FlatSheet& sheet);

/// All of the sheet leaves the heater warmer by so much [K]: what stands for it, its map, and where there is a cold rim
/// what lies under the clamp, as a thermometer that reads wrong does so everywhere.
HeatSpec warmer(HeatSpec heat, double by_K);

}  // namespace pellicle::sheet
