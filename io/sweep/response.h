// How does each answer follow what was varied? A picture a finding and key, as SVG.
#pragma once

#include "io/sweep/gather.h"

#include <string>

namespace pellicle::sweep {

/// The finding over the key (number in the manifest) as a `figure`: a curve for each combination of the other keys, or
/// where these are more than can be told apart the least, the middle and the largest. The limit is drawn where all have
/// the same. Empty if there are fewer than two values with an answer. `number` tells figures of one page apart.
std::string response_figure(const Gathered& gathered, const std::string& finding, std::size_t key, int number);

}  // namespace pellicle::sweep
