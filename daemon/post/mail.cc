#include "daemon/post/mail.h"

#include <algorithm>
#include <array>
#include <chrono>
#include <cstddef>
#include <string_view>

#include <fmt/format.h>

#include "daemon/post/html.h"
#include "daemon/post/mime.h"
#include "daemon/post/paragraphs.h"

namespace rimeward {
namespace {

// Bodies are base64, in whose lines no "-" occurs: none of them can be a boundary.
constexpr std::string_view kVersions = "versions-of-this-letter";
constexpr std::string_view kPage = "page-and-its-picture";

// "Sun, 12 Apr 2026 17:05:00 +0000", RFC 5322, section 3.3.
std::string date_text(Instant at) {
  constexpr std::array kDays{"Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"};
  constexpr std::array kMonths{"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                               "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
  const auto day = std::chrono::floor<std::chrono::days>(at);
  const std::chrono::year_month_day date(day);
  const std::chrono::hh_mm_ss time(at - day);
  return fmt::format(
      "{}, {:02} {} {:04} {:02}:{:02}:{:02} +0000",
      kDays.at(std::chrono::weekday(day).c_encoding()), static_cast<unsigned>(date.day()),
      kMonths.at(static_cast<unsigned>(date.month()) - 1), static_cast<int>(date.year()),
      time.hours().count(), time.minutes().count(), time.seconds().count());
}

std::string domain_of(std::string_view address) {
  return header_ascii(address.substr(address.rfind('@') + 1));
}

// The end of an id tells it apart, and a line has room for no more than this.
std::string id_of(std::string_view id) {
  constexpr std::size_t kLongest = 200;
  return header_ascii(id.substr(id.size() - std::min(kLongest, id.size())));
}

std::string addresses(const std::vector<std::string>& all) {
  std::string list;
  for (const std::string& one : all) {
    if (!list.empty()) list += ",\r\n ";
    list += header_ascii(one);
  }
  return list;
}

std::string headers(const EmailJob& job, Instant now) {
  const std::string name = job.garden.empty() ? "" : display_name(job.garden) + "\r\n ";
  return fmt::format(
      "From: {}<{}>\r\nTo: {}\r\nSubject: {}\r\nDate: {}\r\n"
      "Message-ID: <rimeward.{}@{}>\r\n"
      // RFC 3834: answers "away until Monday" are not wanted.
      "Auto-Submitted: auto-generated\r\nMIME-Version: 1.0\r\n",
      name, header_ascii(job.from), addresses(job.to), header_text(job.letter.subject),
      date_text(now), id_of(job.letter.id), domain_of(job.from));
}

std::string plain_text(const Letter& letter, std::string_view garden) {
  std::string text;
  for (const Letter::Section& section : letter.sections) {
    text += fmt::format("{}\r\n\r\n", one_line(section.headline));
    for (const Paragraph& paragraph : paragraphs(section.body)) {
      for (const std::string& line : paragraph.lines)
        text += line + "\r\n";
      text += "\r\n";
    }
  }
  // "-- " begins what readers of mail take for a signature; common practice.
  return fmt::format("{}-- \r\n{}\r\n", text, one_line(garden));
}

std::string part(std::string_view type, std::string_view more_headers,
                 std::string_view content) {
  return fmt::format("Content-Type: {}\r\nContent-Transfer-Encoding: base64\r\n{}\r\n{}",
                     type, more_headers, base64_lines(content));
}

std::string multipart(std::string_view kind, std::string_view boundary,
                      std::string_view first, std::string_view second) {
  return fmt::format(
      "Content-Type: multipart/{};\r\n boundary=\"{}\"\r\n\r\n"
      "--{}\r\n{}\r\n--{}\r\n{}\r\n--{}--\r\n",
      kind, boundary, boundary, first, boundary, second, boundary);
}

std::string page_part(const EmailJob& job, const std::optional<std::string>& picture) {
  const std::string id = "week@" + domain_of(job.from);
  const std::string page =
      part("text/html; charset=utf-8", "",
           letter_html(job.letter, job.garden, picture ? "cid:" + id : std::string{}));
  if (!picture) return page;
  const std::string more = fmt::format(
      "Content-ID: <{}>\r\nContent-Disposition: inline;\r\n"
      " filename=\"week.png\"\r\n",
      id);
  return multipart("related", kPage, page, part("image/png", more, *picture));
}

}  // namespace

std::string mail_message(const EmailJob& job, const std::optional<std::string>& picture,
                         Instant now) {
  const std::string text =
      part("text/plain; charset=utf-8", "", plain_text(job.letter, job.garden));
  return headers(job, now) +
         multipart("alternative", kVersions, text, page_part(job, picture));
}

}  // namespace rimeward
