// How is a name written so that a shell takes it for one word?
#pragma once

#include <string>

namespace pellicle::guide {

/// The text itself if no shell reads anything into it, or else in single quotes.
std::string shell_word(const std::string& text);

}  // namespace pellicle::guide
