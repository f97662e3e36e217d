// How does a relief look on disk? One HDF5 file with its fields, and an index that lays mould and sheet over the STL.
#pragma once

#include "io/results/result_folder.h"
#include "solver/reliefs.h"

#include <string>
#include <variant>
#include <vector>

namespace pellicle::results {

/// What a relief file says of the whole relief; summary.json repeats it under the same names. NaN: there is no number.
struct ReliefAttribute {
  const char* name;
  std::variant<double, bool, std::string> value;
};
std::vector<ReliefAttribute> relief_attributes(const ReliefResult& relief);

/// "relief_title.h5"
std::string relief_file(const std::string& name);

/// Writes relief_<name>.h5, then relief_<name>.xdmf.
void write_relief(ResultFolder& folder, const ReliefResult& relief);

}  // namespace pellicle::results
