#include "daemon/post/job.h"

#include <limits>
#include <string>

#include <doctest/doctest.h>

#include "tests/daemon/post/sample_jobs.h"

namespace rimeward {
namespace {

// What is said of the job with `from` in its JSON replaced by `to`.
std::string refusal(const Job& job, const std::string& from, const std::string& to) {
  std::string json = job_json(job);
  const auto at = json.find(from);
  REQUIRE(at != std::string::npos);
  json.replace(at, from.size(), to);
  const auto read = job_from_json(json);
  return read ? "taken" : read.error().message;
}

TEST_CASE("a job comes back from JSON as it went in") {
  EmailJob email = sample_email();
  CHECK(job_from_json(job_json(email)).value() == Job{email});
  email.letter.chart = sample_chart();
  email.encrypted = false;
  email.time_limit = std::chrono::seconds{7};
  email.letter.subject = "quotes \" and \\ and\nlines, ü, ☃ and \x01";
  CHECK(job_from_json(job_json(email)).value() == Job{email});
  const HttpJob http = sample_http();
  CHECK(job_from_json(job_json(http)).value() == Job{http});
}

TEST_CASE("bytes that are not UTF-8 are replaced in a job") {
  HttpJob job = sample_http();
  job.content = "caf\xe9!";
  const auto read = job_from_json(job_json(job));
  REQUIRE(read);
  CHECK(std::get<HttpJob>(*read).content == "caf\xef\xbf\xbd!");
}

TEST_CASE("a temperature that is no number comes back as not known") {
  EmailJob job = sample_email();
  job.letter.chart = sample_chart();
  job.letter.chart->lines[0].lows[0] = Celsius{std::numeric_limits<double>::quiet_NaN()};
  const auto read = job_from_json(job_json(job));
  REQUIRE(read);
  CHECK_FALSE(std::get<EmailJob>(*read).letter.chart->lines[0].lows[0].has_value());
}

TEST_CASE("what is no job is refused with where it is wrong") {
  for (const char* text : {"", "{", "[]", "null", "{\"mail\":{}}"}) {
    CAPTURE(text);
    const auto read = job_from_json(text);
    REQUIRE_FALSE(read);
    CHECK(read.error().message == "expected JSON with \"email\" or \"http\"");
  }
  CHECK(job_from_json("{\"email\":3}").error().message ==
        "email.address: expected text, found nothing");

  struct Case {
    const char* from;
    const char* to;
    const char* said;
  };
  EmailJob email = sample_email();
  email.letter.chart = sample_chart();
  const Case cases[] = {
      {"\"encrypted\":true", "\"encrypted\":\"yes\"",
       "email.encrypted: expected true or false, found yes"},
      {"\"user\"", "\"usr\"", "email.user: expected text, found nothing"},
      {"\"user\":\"garden\"", "\"user\":\"a\\nb\"",
       "email.user: expected no control character, found a\\nb"},
      {"\"time_limit_s\":20", "\"time_limit_s\":0",
       "email.time_limit_s: expected whole seconds, 1 to 86400, found number"},
      {"\"time_limit_s\":20", "\"time_limit_s\":1e30",
       "email.time_limit_s: expected whole seconds, 1 to 86400, found number"},
      {"smtp://", "imap://",
       "email.address: expected an address that begins with smtp:// or smtps://, found "
       "imap://mail.example.org:587"},
      {"7-1776013500", "7\\r\\nX: 1",
       "email.letter.id: expected letters, digits, \"-\" and \".\", found 7\\r\\nX: 1"},
      {"{\"headline\"", "{\"head\"",
       "email.letter.sections[0].headline: expected text, found nothing"},
      {"[5.1,", "[\"5.1\",",
       "email.letter.chart.lines[0].lows[0]: expected a number or null, found 5.1"},
      {"[\"Mon\",\"Tue\",\"Wed\"]", "\"Mon\"",
       "email.letter.chart.days: expected a list, found Mon"},
  };
  for (const auto& [from, to, said] : cases) {
    CAPTURE(to);
    CHECK(refusal(email, from, to) == said);
  }
}

TEST_CASE("an address that could end a command or a header is refused") {
  for (const char* address :
       {"anna", "@example.org", "anna@", "a@b@example.org", "a b@example.org",
        "a@example.org>\\r\\nRCPT TO:<b@example.org", "Anna <anna@example.org>",
        "änna@example.org", "a,b@example.org", ""}) {
    CAPTURE(address);
    CHECK(refusal(sample_email(), "ben@example.org", address)
              .starts_with("email.to[1]: expected an e-mail address"));
    CHECK(refusal(sample_email(), "rimeward@example.org", address)
              .starts_with("email.from: expected an e-mail address"));
  }
  EmailJob nobody = sample_email();
  nobody.to.clear();
  CHECK(job_from_json(job_json(nobody)).error().message ==
        "email.to: expected at least one, found array");
}

TEST_CASE("a header of more than one line, or without a name, is refused") {
  for (const char* line : {"X-A: b\\r\\nX-C: d", "no colon", ": no name", "a name: value",
                           "X-A: \\u0000", ""}) {
    CAPTURE(line);
    CHECK(refusal(sample_http(), "X-Garden: hochfeld", line)
              .starts_with("http.headers[0]: expected"));
  }
  CHECK(refusal(sample_http(), "https://", "file://")
            .starts_with("http.address: expected"));
  CHECK(refusal(sample_http(), "/notices", "/a\\r\\nb")
            .starts_with("http.address: expected"));
}

}  // namespace
}  // namespace rimeward
