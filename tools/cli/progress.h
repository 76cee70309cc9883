// How far a verb that takes its time has come, as one line. Pure.

#pragma once

#include <chrono>
#include <string>

#include "tools/cli/verb.h"

namespace rimeward {

// "checking april.csv  ██████▌·······  43 %  312,000 rows/s  12 s left": no wider than
// the screen less one column, so that no terminal wraps it; without UTF-8 in ASCII. The
// bar and the time left are there where the total is known, rate and time left once
// `elapsed` is long enough to tell. What does not fit is left out: first the bar, then
// the rate, then the time left, then the end of what is being done.
std::string progress_line(const Progress& progress, std::chrono::milliseconds elapsed,
                          const Screen& screen);

}  // namespace rimeward
