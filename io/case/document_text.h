// How is a tree of values written as a TOML file?
#pragma once

#include "io/case/document.h"

#include <string>

namespace pellicle::cases {

/// One value on one line: "120 °C" in quotes, 0.5, [1, 2], { disc = "40 mm" }. Numbers read back to the same bits. No
/// dates: no key of a case takes one.
std::string value_toml(const Node& value);

/// The whole document of a table, its keys in their order but simple ones first, as TOML wants it.
std::string document_toml(const Node& root);

}  // namespace pellicle::cases
