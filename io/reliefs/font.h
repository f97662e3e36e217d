// What do the characters of a font look like? Outlines as polygons, with advance and kerning.
#pragma once

#include "mesh/triangle_mesh.h"

#include <filesystem>
#include <map>
#include <memory>
#include <string>
#include <vector>

namespace pellicle::reliefs {

/// A closed polygon; the first point is not repeated.
using Contour = std::vector<mesh::Vec2>;

/// In units of the font, y upwards from the base line. Outer contours run counter-clockwise, holes clockwise. Curves
/// are chords, at most 1/200 of the capitals long and a ten-thousandth of them off.
struct GlyphShape {
  std::vector<Contour> contours;  ///< none for a blank
  double advance = 0.0;           ///< to the next character
};

/// DejaVu Sans where Debian's fonts-dejavu-core and other systems put it; empty if it is not installed.
std::filesystem::path default_font();

/// A font file with outlines (TrueType, OpenType, ...). One character is one shape: no ligatures, no scripts in which
/// neighbours change shape or order.
class Font {
 public:
  /// Throws Error (geometry) naming the file if it is missing, too large or no font with outlines and a capital H.
  explicit Font(const std::filesystem::path& file);
  ~Font();
  Font(const Font&) = delete;
  Font& operator=(const Font&) = delete;

  const std::string& name() const { return name_; }  ///< "DejaVu Sans Book"
  bool has(char32_t character) const;
  /// The font has it.
  const GlyphShape& shape(char32_t character);
  /// What to add to the advance of `left` before `right`.
  double kerning(char32_t left, char32_t right) const;
  double cap_height() const { return cap_height_; }  ///< of the H
  double line_step() const;                          ///< from base line to base line, as the font wants it

 private:
  struct Library;
  std::string bytes_;  ///< the library reads from here as long as it lives
  std::string file_, name_;
  std::unique_ptr<Library> library_;
  double cap_height_ = 0.0;
  std::map<char32_t, GlyphShape> shapes_;
};

}  // namespace pellicle::reliefs
