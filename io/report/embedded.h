// Which files of this room are compiled in? Frame of the pages, style and script, and the viewer's
// script.
#pragma once

namespace pellicle::report {

extern const char* const kPageFrame;
extern const char* const kPageStyle;
extern const char* const kPageScript;
extern const char* const kPageAccuracy;
extern const char* const kOpenScript;

}  // namespace pellicle::report
