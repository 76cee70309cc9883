#include "daemon/post/trouble.h"

#include <fmt/format.h>

#include "daemon/post/paragraphs.h"

namespace rimeward {
namespace {

constexpr std::size_t kLongest = 160;

// Without what stands before "@", after "?" or after "#", and without our own path: each
// may be a secret.
std::string shown(std::string_view redirect, std::string_view path) {
  std::string address(redirect.substr(0, redirect.find_first_of("?#")));
  const auto server = address.find("//") + 2;
  const auto user_end = address.substr(0, address.find('/', server)).rfind('@');
  if (user_end != std::string::npos) address.erase(server, user_end + 1 - server);
  const std::string_view own = path.substr(0, path.find_first_of("?#"));
  const auto repeated = own.size() > 1 ? address.find(own) : std::string::npos;
  if (repeated != std::string::npos) address.replace(repeated, own.size(), "/...");
  return as_said(address);
}

// The meanings of the codes: RFC 9110, section 15; 429: RFC 6585, section 4.
std::string_view remedy(int status) {
  switch (status) {
    case 401:
    case 403:
      return "it wants to know who asks: mend [[route]] bearer_file or headers";
    case 404:
    case 405:
    case 410:
      return "nothing takes messages there: mend [[route]] url";
    case 408:
    case 425:
    case 429:
      return "it is asked too much for now, and is tried again; if this goes on, send "
             "less "
             "by [[route]] for, or as a digest";
    case 413:
      return "the message is too long for it: send less at once, without a digest";
    case 415:
      return "it does not take such content: try [[route]] format";
    default:
      break;
  }
  if (status >= 500) return "it is in trouble itself: ask who runs it, if this goes on";
  return "it does not take the message: mend [[route]] url, headers or format";
}

}  // namespace

std::string as_said(std::string_view text) {
  const std::string line = one_line(text.substr(0, kLongest));
  return text.size() > kLongest ? line + "..." : line;
}

std::string mail_refused(std::string_view server, std::string_view reply) {
  const std::string said = as_said(reply);
  if (reply.starts_with('4')) {
    return fmt::format(
        "{}: not now ({}); it is tried again, and if this goes on, ask who runs the "
        "server",
        server, said);
  }
  if (reply.starts_with("530")) {
    return fmt::format(
        "{}: takes no letter without a login ({}); set [[route]] user and password_file",
        server, said);
  }
  return fmt::format(
      "{}: refused the letter ({}); mend [[route]] from or to, or ask who runs the "
      "server",
      server, said);
}

std::string post_refused(std::string_view server, int status, std::string_view redirect,
                         std::string_view path) {
  if (status >= 300 && status < 400 && !redirect.empty()) {
    return fmt::format(
        "{}: status {}, it points to {}; write that as [[route]] url, if it is right",
        server, status, shown(redirect, path));
  }
  return fmt::format("{}: status {}; {}", server, status, remedy(status));
}

}  // namespace rimeward
