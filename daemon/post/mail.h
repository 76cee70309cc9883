// A letter as an e-mail message. Pure: when it is, is an argument.

#pragma once

#include <optional>
#include <string>

#include "daemon/post/job.h"
#include "sensors/units.h"

namespace rimeward {

// The message as SMTP carries it (RFC 5322, MIME), for all of job.to: as plain text and
// as HTML, and with `picture`, a PNG, shown in the latter. Its Message-ID is made of the
// letter's id alone, so that a letter which is sent twice can be told to be one. Only
// ASCII; the lines of its bodies have at most 76 characters.
std::string mail_message(const EmailJob& job, const std::optional<std::string>& picture,
                         Instant now);

}  // namespace rimeward
