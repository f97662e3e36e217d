// Which pieces do several pages share? Badges, tables, places and cautions as HTML.
#pragma once

#include "mesh/triangle_mesh.h"
#include "solver/checks/finding.h"

#include <string>
#include <vector>

namespace pellicle::report {

/// How a verdict is said and coloured.
struct Sign {
  const char *word, *style;
};
Sign sign_of(checks::Verdict verdict);

/// A word with its sign; both are plain.
std::string badge(const char* word, const char* style);

/// "at (1.0, 2.0, 3.0) mm".
std::string place_text(const mesh::Vec3& p_m);

/// The finding's question, or its id where it has none.
const std::string& title_of(const checks::Finding& finding);

/// A table that scrolls by itself where the page is narrow. `rows` is HTML: each a tr that begins with a th.
std::string table(const std::string& name, const std::vector<const char*>& heads, const std::string& rows);

/// The cautions of results/cautions.h as list items.
std::string cautions_text();

}  // namespace pellicle::report
