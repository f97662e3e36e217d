// What shape does a relief of the case have? From its source to heights or a profile.
#pragma once

#include "io/reliefs/lettering.h"
#include "solver/imprint/relief_spec.h"
#include "solver/reliefs.h"

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

/// The characters as labels of their strokes, in metres on the patch; a repeated one is "A (2)".
std::vector<imprint::Label> labels_of(const std::vector<Glyph>& glyphs, double spacing_m);

/// All reliefs of a case, as a run takes them. Throws as load_relief does.
std::vector<ReliefShape> load_reliefs(const std::vector<imprint::ReliefSpec>& specs);

}  // namespace pellicle::reliefs
