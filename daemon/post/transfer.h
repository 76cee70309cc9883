// Carries a message over the network. The only home of libcurl; no state of its own.
//
// Each call waits for the server, no longer than the job's time limit, and seconds more
// for its goodbye. Servers are verified, redirects are not followed, and a proxy is used
// where the environment names one, as libcurl documents it. A failure is an Error with
// what went wrong and what to do, in one line without a secret: all of them may pass.
//
// REQUIRES: SIGPIPE is ignored, for a connection that breaks raises it.

#pragma once

#include <string>
#include <string_view>

#include "daemon/post/job.h"

namespace rimeward {

// Hands `message` to the mail server for all of job.to. Where the server takes the letter
// for some of them alone, that is the value: whom it is not for, and what to do. Empty:
// it is for all.
Result<std::string> send_mail(const EmailJob& job, std::string_view message);

// Posts job.content. Delivered: the server answered with a status of the 2xx; what else
// it says is passed over, and no more than 64 kB of it read.
Result<void> send_post(const HttpJob& job);

}  // namespace rimeward
