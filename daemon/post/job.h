// What the program rimeward-post is asked to do, as JSON on its standard input: carry one
// letter by e-mail, or one message by HTTP. Pure: the values, and their JSON.
//
// The daemon runs it for each delivery (daemon/delivery/route_email.cc, route_http.cc),
// so that neither libcurl nor Cairo live in the daemon's memory, and a server that hangs
// is ended with the process. Exit status: 0 delivered; 75 (EX_TEMPFAIL) not now; 64
// (EX_USAGE) the job is no job. What went wrong and what to do is the last line that it
// writes to standard error; with exit status 0, who of many could not be reached. Secrets
// are read from their files by the program itself.

#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "daemon/base/week_chart.h"
#include "sensors/result.h"

namespace rimeward {

// Any text may hold anything: what reads these escapes for its own medium.
struct Letter {
  std::string id;  // letters, digits, "-" and ".": the same at each attempt
  std::string subject;
  struct Section {
    std::string headline;
    // Paragraphs, with an empty line between two. One whose lines all begin with two
    // spaces is a table: shown as it stands, in a typewriter face.
    std::string body;
    bool operator==(const Section&) const = default;
  };
  std::vector<Section> sections;
  std::optional<WeekChart> chart;
  bool operator==(const Letter&) const = default;
};

struct EmailJob {
  std::string address;  // smtp://host:port or smtps://host:port
  std::string ca_file;
  bool encrypted = true;  // by smtp://: only after STARTTLS
  std::string user;
  std::string password_file;
  std::string garden;  // the name shown beside `from`
  std::string from;
  std::vector<std::string> to;
  std::chrono::seconds time_limit{20};
  Letter letter;
  bool operator==(const EmailJob&) const = default;
};

struct HttpJob {
  std::string address;  // http:// or https://
  std::string ca_file;
  std::vector<std::string> headers;
  std::string bearer_file;
  std::string content_type;
  std::string id;  // sent as Idempotency-Key
  std::string content;
  std::chrono::seconds time_limit{20};
  bool operator==(const HttpJob&) const = default;
};

using Job = std::variant<EmailJob, HttpJob>;

std::string job_json(const Job& job);
Result<Job> job_from_json(std::string_view text);

}  // namespace rimeward
