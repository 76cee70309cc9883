// Jobs of the Hochfeld garden, ready to be carried.

#pragma once

#include "daemon/post/job.h"

namespace rimeward {

inline WeekChart sample_chart() {
  const auto series = [](double first, double second) {
    return std::vector<std::optional<Celsius>>{Celsius{first}, std::nullopt,
                                               Celsius{second}};
  };
  return {.title = "Lows and highs of the week",
          .days = {"Mon", "Tue", "Wed"},
          .lines = {{.place = "Glasshouse",
                     .lows = series(5.1, 6.4),
                     .highs = series(22, 24.5),
                     .keep_above = Celsius{5}},
                    {.place = "Yard",
                     .lows = series(-2.3, 0.1),
                     .highs = series(9, 11.5),
                     .keep_above = std::nullopt}},
          .in_fahrenheit = false};
}

inline EmailJob sample_email() {
  EmailJob job;
  job.address = "smtp://mail.example.org:587";
  job.ca_file = "/etc/rimeward/mail-ca.pem";
  job.user = "garden";
  job.password_file = "/etc/rimeward/mail-password";
  job.garden = "Hochfeld school garden";
  job.from = "rimeward@example.org";
  job.to = {"anna@example.org", "ben@example.org"};
  job.letter.id = "7-1776013500";
  job.letter.subject = "Fleece the north frame tonight, by 19:20";
  job.letter.sections = {{.headline = "Fleece the north frame tonight, by 19:20",
                          .body = "Low -1.3 °C expected.\n\n  place       low\n"
                                  "  North frame  -1.3"}};
  return job;
}

inline HttpJob sample_http() {
  HttpJob job;
  job.address = "https://example.org/notices";
  job.headers = {"X-Garden: hochfeld"};
  job.bearer_file = "/etc/rimeward/notices-token";
  job.content_type = "application/json";
  job.id = "7-1776013500";
  job.content = R"({"title":"Südkasten"})";
  return job;
}

}  // namespace rimeward
