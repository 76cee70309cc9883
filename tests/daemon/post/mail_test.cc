#include "daemon/post/mail.h"

#include <algorithm>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sensors/iso_time.h"
#include "tests/daemon/post/sample_jobs.h"

namespace rimeward {
namespace {

using namespace std::string_literals;

const Instant kNow = parse_instant("2026-04-12T17:05:09Z").value();

std::string message_of(const EmailJob& job) {
  return mail_message(job, std::nullopt, kNow);
}

std::vector<std::string> lines_of(const std::string& message) {
  std::vector<std::string> lines;
  for (std::size_t from = 0; from < message.size();) {
    const std::size_t end = message.find("\r\n", from);
    REQUIRE(end != std::string::npos);
    lines.push_back(message.substr(from, end - from));
    from = end + 2;
  }
  return lines;
}

// The headers of the message as a whole, a folded one on one line.
std::vector<std::string> headers_of(const std::string& message) {
  std::vector<std::string> headers;
  for (const std::string& line : lines_of(message)) {
    if (line.empty()) break;
    if (line.starts_with(' ')) {
      headers.back() += line;
    } else {
      headers.push_back(line);
    }
  }
  return headers;
}

std::string header(const std::string& message, const std::string& name) {
  for (const std::string& one : headers_of(message)) {
    if (one.starts_with(name + ": ")) return one.substr(name.size() + 2);
  }
  return "none";
}

std::string from_base64(const std::string& text) {
  const std::string digits =
      "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string bytes;
  unsigned bits = 0;
  int count = 0;
  for (const char c : text) {
    const auto digit = digits.find(c);
    if (digit == std::string::npos) continue;
    bits = (bits << 6U) | static_cast<unsigned>(digit);
    count += 6;
    if (count < 8) continue;
    count -= 8;
    bytes += static_cast<char>((bits >> static_cast<unsigned>(count)) & 0xffU);
  }
  return bytes;
}

// What the part of that type holds.
std::string part(const std::string& message, const std::string& type) {
  const auto at = message.find("Content-Type: " + type);
  REQUIRE(at != std::string::npos);
  const auto from = message.find("\r\n\r\n", at);
  return from_base64(message.substr(from, message.find("\r\n--", from) - from));
}

// REQUIRES of SMTP, and what readers of mail take well.
void check_form(const std::string& message) {
  CHECK(std::ranges::all_of(
      message, [](char c) { return (c >= 0x20 && c < 0x7f) || c == '\r' || c == '\n'; }));
  bool in_body = false;
  for (const std::string& line : lines_of(message)) {
    CAPTURE(line);
    CHECK(line.find_first_of("\r\n") == std::string::npos);
    in_body = in_body || line.empty();
    CHECK(line.size() <= (in_body ? 76U : 998U));
  }
}

TEST_CASE("a letter has the headers that mail wants") {
  const std::string message = message_of(sample_email());
  check_form(message);
  CHECK(headers_of(message) ==
        std::vector<std::string>{
            "From: \"Hochfeld school garden\" <rimeward@example.org>",
            "To: anna@example.org, ben@example.org",
            "Subject: Fleece the north frame tonight, by 19:20",
            "Date: Sun, 12 Apr 2026 17:05:09 +0000",
            "Message-ID: <rimeward.7-1776013500@example.org>",
            "Auto-Submitted: auto-generated", "MIME-Version: 1.0",
            "Content-Type: multipart/alternative; boundary=\"versions-of-this-letter\""});
}

TEST_CASE("a letter is there as plain text and as a page") {
  const std::string message = message_of(sample_email());
  CHECK(part(message, "text/plain; charset=utf-8") ==
        "Fleece the north frame tonight, by 19:20\r\n\r\nLow -1.3 °C expected.\r\n\r\n"
        "  place       low\r\n  North frame  -1.3\r\n\r\n-- \r\nHochfeld school "
        "garden\r\n");
  CHECK(part(message, "text/html; charset=utf-8").find("<p>Low -1.3 °C expected.</p>") !=
        std::string::npos);
  CHECK(message.find("image/png") == std::string::npos);
  CHECK(message.ends_with("\r\n--versions-of-this-letter--\r\n"));
}

TEST_CASE("a picture goes with the page that shows it") {
  EmailJob job = sample_email();
  job.letter.chart = sample_chart();
  const std::string picture = "\x89PNG\r\n\x1a\n\0rest"s;
  const std::string message = mail_message(job, picture, kNow);
  check_form(message);
  CHECK(part(message, "image/png") == picture);
  CHECK(message.find("Content-ID: <week@example.org>\r\n") != std::string::npos);
  CHECK(part(message, "text/html").find("src=\"cid:week@example.org\"") !=
        std::string::npos);
  CHECK(message.find("Content-Type: multipart/related;") != std::string::npos);
}

TEST_CASE("a letter that is sent again later differs in nothing but its date") {
  std::string first = message_of(sample_email());
  const std::string second =
      mail_message(sample_email(), std::nullopt, kNow + std::chrono::minutes{10});
  CHECK(first != second);
  const auto at = first.find("17:05:09");
  REQUIRE(at != std::string::npos);
  first.replace(at, 8, "17:15:09");
  CHECK(first == second);
}

TEST_CASE("nothing from outside adds a header or a line to a letter") {
  const std::string usual = message_of(sample_email());
  const auto names_of = [](const std::string& message) {
    std::vector<std::string> names;
    for (const std::string& one : headers_of(message))
      names.push_back(one.substr(0, one.find(':')));
    return names;
  };
  const std::vector<std::string> hostile{
      "x\r\nBcc: all@example.org",
      "x\nBcc: all@example.org\n\n<script>",
      "x\r\n\r\n--versions-of-this-letter\r\n",
      "\"><b@example.org>, \"",
      "\0\x01\x1b[31m\x7f"s,
      "=?UTF-8?B?DQpCY2M6IHg=?=",
      "☃ Emoji 🐝 and ümläuts, " + std::string(3000, 'x'),
      "\xff\xfe not UTF-8 \xc3",
      std::string(200, '\n'),
  };
  for (const std::string& text : hostile) {
    CAPTURE(text);
    EmailJob job = sample_email();
    job.garden = text;
    job.letter.subject = text;
    job.letter.sections = {{.headline = text, .body = text}};
    // These are checked where a job is read; even so.
    job.letter.id = text.substr(0, 100);
    job.from = text.substr(0, 100) + "@example.org" + text.substr(0, 100);
    job.to = {text.substr(0, 900)};
    const std::string message = message_of(job);
    check_form(message);
    CHECK(names_of(message) == names_of(usual));
    CHECK(header(message, "Bcc") == "none");
  }
}

TEST_CASE("an id of any length makes a Message-ID of one line") {
  EmailJob job = sample_email();
  job.letter.id = std::string(5000, '7');
  check_form(message_of(job));
}

TEST_CASE("a letter of a garden without a name is from its address") {
  EmailJob job = sample_email();
  job.garden.clear();
  CHECK(header(message_of(job), "From") == "<rimeward@example.org>");
}

}  // namespace
}  // namespace rimeward
