// What is kept when a run is interrupted? Everything needed to go on with the same bits, in one file.
#pragma once

#include "io/results/result_folder.h"
#include "solver/forming/snapshot.h"
#include "solver/reliefs.h"

#include <optional>
#include <string>
#include <vector>

namespace pellicle::results {

struct Checkpoint {
  std::string case_text;      ///< exact bytes of the case file
  std::string case_stem;      ///< name of the case, which is its title by default
  std::string polymer_cards;  ///< the cards the run used, as TOML text
  std::string resin_cards;
  std::string own_card;                     ///< text of the card the case brought along; empty: none
  std::optional<mesh::TriangleMesh> mould;  ///< placed and welded
  std::vector<ReliefShape> reliefs;         ///< one for each relief of the case
  std::optional<sheet::TemperatureMap> heater_map;
  std::vector<std::string> warnings;  ///< told so far
  int frames = 0;                     ///< written so far
  int history_rows = 0;               ///< likewise
  double seconds = 0.0;               ///< how long it took to come here, over all its legs
  forming::Snapshot snapshot;
};

/// checkpoint.h5, all numbers in f64.
void write_checkpoint(ResultFolder& folder, const Checkpoint& checkpoint);

/// Throws Error (case) if the file is no whole checkpoint of this version.
Checkpoint read_checkpoint(const std::filesystem::path& file);

}  // namespace pellicle::results
