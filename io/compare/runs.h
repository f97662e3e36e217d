// What differs between two finished runs? Keys of the case, answers, and fields of the sheet place by place.
//
// Fields are compared where both sheets were in the flat sheet, so two runs need not share a mesh, a clamp or a mould.
#pragma once

#include "io/results/stored_run.h"
#include "mesh/triangle_mesh.h"

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace pellicle::compare {

/// One of the two, read back.
struct Run {
  std::string folder;
  results::StoredSummary summary;
  std::optional<cases::ParsedCase> parsed;  ///< none: not a case of this program, `notes` say why
  results::StoredSheet sheet;
  std::optional<mesh::TriangleMesh> mould;
  std::string heater_file;             ///< bytes of the heater's map; empty: none, or none was kept
  std::vector<char> in_part;           ///< N, 1: inside the trim; all 1 without a case
  std::vector<double> touched;         ///< N, 1: it touched the mould at some time, else 0
  std::vector<double> stroke_depth_m;  ///< N, depth in a stroke 0.5 mm wide; NaN: touches nothing. May be empty
  std::vector<std::string> notes;
};
/// Throws Error (case) for what is no finished run, and for damaged files.
Run read_run(const std::filesystem::path& folder);

/// A key of the case whose value differs; empty text: it has none there.
struct KeyChange {
  std::string key, in_a, in_b;
};

/// One question, as both answer it.
struct AnswerPair {
  std::string id, question;
  std::optional<checks::Finding> a, b;
  /// B less A; NaN unless both have a number in one unit.
  double change() const;
  /// -1 better in B, 1 worse, 0 the same verdict or not both answered.
  int turned() const;
};

/// A field on A's mesh. N values, NaN where one of the two has none.
struct FieldPair {
  std::string key;                       ///< "thickness"
  std::string name;                      ///< "Wall thickness"
  std::string unit;                      ///< "mm"; "-"
  std::vector<double> a, b, difference;  ///< difference = b - a
};

/// Of a difference over some of A's sheet, weighed with area in the flat sheet.
struct Spread {
  double mean = 0.0, rms = 0.0;
  double worst = 0.0;                       ///< the largest, with its sign
  mesh::Vec3 place_m = mesh::Vec3::Zero();  ///< of it, on A's formed sheet
  mesh::Vec2 flat_m = mesh::Vec2::Zero();   ///< the same in the flat sheet
  double area_share = 0.0;                  ///< of A's whole sheet that was compared
};

struct Comparison {
  std::vector<KeyChange> changes;
  std::vector<AnswerPair> answers;    ///< A's order, then what B alone has
  std::vector<FieldPair> fields;      ///< thickness, touched (1: only B, -1: only A), stroke_depth if both have it
  std::optional<Spread> part, sheet;  ///< of the thickness, mm; none: nothing of the two sheets overlaps
  double ratio = 0.0;                 ///< B's mean wall over A's, where both are, over the part
  double only_a = 0.0, only_b = 0.0;  ///< shares of the compared sheet that touched in one of them alone
  std::vector<std::string> notes;     ///< versions, surfaces, outlines: what else a reader has to know
};
Comparison compared(const Run& a, const Run& b);

}  // namespace pellicle::compare
