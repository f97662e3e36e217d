// What shape does a relief of the case have? From its source to heights or a profile.
#pragma once

#include "io/reliefs/lettering.h"
#include "solver/imprint/relief_spec.h"

#include <variant>
#include <vector>

namespace pellicle::reliefs {

struct Relief {
  std::variant<mesh::HeightMap, mesh::Profile> shape;  ///< a map has the spacing and the size asked for
  std::vector<Glyph> glyphs;                           ///< of text and braille
};

/// Reads or makes what the source names; a relief of the mould itself has no source of its own and may not be asked
/// for. Throws Error: geometry naming a file that is broken, case naming relief and key for what does not fit together.
Relief load_relief(const imprint::ReliefSpec& spec);

}  // namespace pellicle::reliefs
