// What belongs to a sweep? manifest.json: its keys, its cases, and a fingerprint of all they read.
#pragma once

#include "io/sweep/sweep_folder.h"

#include <optional>
#include <string>
#include <string_view>

namespace pellicle::sweep {

/// Reads the files the cases name, for the fingerprint.
Manifest manifest_of(const cases::ParsedSweep& sweep);

std::string manifest_json(const Manifest& manifest);
/// Nullopt if the text is no manifest of this version.
std::optional<Manifest> read_manifest(std::string_view json);

}  // namespace pellicle::sweep
