// What triangles does a 3MF file hold? Every item of its build, where the file puts it, and the unit it carries.
#pragma once

#include "io/moulds/facet.h"

#include <cstdint>
#include <string>
#include <string_view>

namespace pellicle::moulds {

/// A 3MF file is a zip archive of XML; more than this unpacked is refused before the library sees it.
constexpr std::uint64_t kMostUnpacked_bytes = 1'000'000'000;

struct ThreemfContent {
  FacetContent content;  ///< format "3MF, 2 items"
  double unit_m = 1e-3;
  std::string unit_name;  ///< "mm", "in", "ft"
};

/// Reads the bytes of a file through lib3mf. Items are merged in the order of the build, each with its transform and
/// those of the components it is made of. The library takes what is no number for 0, and an XML text cut short for a
/// whole one, where its archive is whole. Throws Error (geometry); `name` is what to call the file.
///
/// The library works in a process of its own with at most 8 GB of memory and two minutes, because it checks a tree of
/// components in a time that doubles with each level. read_3mf_here does the same in this process.
ThreemfContent read_3mf(std::string_view bytes, const std::string& name);
ThreemfContent read_3mf_here(std::string_view bytes, const std::string& name);

}  // namespace pellicle::moulds
