// A letter as a page of HTML, as a reader of mail shows it. Pure.

#pragma once

#include <string>
#include <string_view>

#include "daemon/post/job.h"

namespace rimeward {

// `text` as it may stand between tags and in a quoted attribute.
std::string html_escaped(std::string_view text);

// Each section with its headline, the picture where there is one, the garden's name at
// the end. `picture` is where the picture is, such as "cid:week@example.org"; empty:
// none. It names no colours but a reader's own, so that it can be read on dark and on
// light, and fetches nothing.
std::string letter_html(const Letter& letter, std::string_view garden,
                        std::string_view picture);

}  // namespace rimeward
