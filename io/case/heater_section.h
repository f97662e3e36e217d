// What does the case say of how evenly the sheet is warm?
#pragma once

#include "io/case/sections.h"
#include "io/heater/map_file.h"

namespace pellicle::cases {

/// The mean of sheet.temperature_faces stands for sheet.temperature; refuses both.
void put_mean_of_faces(Values& values);
/// Faces and cold rim; the map is a file.
HeaterSpec read_heater(const Values& values);
/// The file is looked for, not read: that is heater::load.
std::optional<heater::MapFile> read_heater_map(const Values& values, const Folder& folder);
/// How much longer the sheet is hot, by key or, where it sags, by the card; and whether it sags.
void read_sag(Values& values, const PolymerCard* card, SheetSpec& sheet);

}  // namespace pellicle::cases
