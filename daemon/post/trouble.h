// What went wrong with a server, and what to do, in words for the keeper of a garden.
// Pure. Each text is one line that names the server, and holds no secret: of an address
// no more than its server is shown, for the rest of one may be a secret by itself.

#pragma once

#include <string>
#include <string_view>

namespace rimeward {

// What somebody else said, on one line and cut where it is long. Quotes and the like
// stand as they are: who shows it escapes it.
std::string as_said(std::string_view text);

// A mail server's word against a letter, such as "550 5.1.1 no such user" (RFC 5321).
std::string mail_refused(std::string_view server, std::string_view reply);

// The status of an answer by HTTP that is not of the 2xx. `redirect` is the address that
// a 3xx points to, and `path` what follows the server in the address that was asked:
// where the former repeats it, it is not shown.
std::string post_refused(std::string_view server, int status, std::string_view redirect,
                         std::string_view path);

}  // namespace rimeward
