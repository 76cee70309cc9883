#include "daemon/post/job.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <utility>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "sensors/escape.h"

namespace rimeward {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::chrono::seconds kLongest = std::chrono::hours{24};

Json to_json(const std::vector<std::optional<Celsius>>& temperatures) {
  Json json = Json::array();
  for (const auto& one : temperatures)
    json.push_back(one ? Json(one->degrees) : Json());
  return json;
}

Json to_json(const WeekChart& chart) {
  Json lines = Json::array();
  for (const WeekChart::Line& line : chart.lines) {
    lines.push_back(
        {{"place", line.place},
         {"lows", to_json(line.lows)},
         {"highs", to_json(line.highs)},
         {"keep_above", line.keep_above ? Json(line.keep_above->degrees) : Json()}});
  }
  return {{"title", chart.title},
          {"days", chart.days},
          {"lines", std::move(lines)},
          {"in_fahrenheit", chart.in_fahrenheit}};
}

Json to_json(const Letter& letter) {
  Json sections = Json::array();
  for (const Letter::Section& section : letter.sections)
    sections.push_back({{"headline", section.headline}, {"body", section.body}});
  return {{"id", letter.id},
          {"subject", letter.subject},
          {"sections", std::move(sections)},
          {"chart", letter.chart ? to_json(*letter.chart) : Json()}};
}

Json to_json(const EmailJob& job) {
  Json json{{"address", job.address},
            {"ca_file", job.ca_file},
            {"encrypted", job.encrypted},
            {"user", job.user},
            {"password_file", job.password_file},
            {"garden", job.garden},
            {"from", job.from},
            {"to", job.to},
            {"time_limit_s", job.time_limit.count()},
            {"letter", to_json(job.letter)}};
  return {{"email", std::move(json)}};
}

Json to_json(const HttpJob& job) {
  Json json{{"address", job.address},           {"ca_file", job.ca_file},
            {"headers", job.headers},           {"bearer_file", job.bearer_file},
            {"content_type", job.content_type}, {"id", job.id},
            {"content", job.content},           {"time_limit_s", job.time_limit.count()}};
  return {{"http", std::move(json)}};
}

// One value and where it stands, "email.letter.subject". Of a value that is missing or of
// another kind it gives an empty one, and notes the first such fault.
class Reader {
 public:
  Reader(const Json& value, std::string where, std::string& fault)
      : value_(value), where_(std::move(where)), fault_(fault) {}

  Reader at(const char* key) const {
    static const Json kNone;
    const auto found = value_.find(key);
    return {found == value_.end() ? kNone : *found, where_ + "." + key, fault_};
  }

  bool is_null() const { return value_.is_null(); }

  std::string text() const {
    if (value_.is_string()) return value_.get<std::string>();
    expected("text");
    return {};
  }

  // Text without a control character, which could end a line of a header or a command.
  std::string line() const {
    std::string read = text();
    const auto is_control = [](char c) {
      return static_cast<unsigned char>(c) < 0x20 || c == 0x7f;
    };
    if (std::ranges::any_of(read, is_control)) expected("no control character");
    return read;
  }

  bool flag() const {
    if (value_.is_boolean()) return value_.get<bool>();
    expected("true or false");
    return false;
  }

  std::chrono::seconds time_limit() const {
    const auto seconds = value_.is_number_integer() ? value_.get<std::int64_t>() : 0;
    if (seconds < 1 || seconds > kLongest.count()) {
      expected(fmt::format("whole seconds, 1 to {}", kLongest.count()));
    }
    return std::chrono::seconds{seconds};
  }

  std::optional<Celsius> temperature() const {
    if (value_.is_null()) return std::nullopt;
    if (!value_.is_number()) expected("a number or null");
    const double degrees = value_.is_number() ? value_.get<double>() : 0;
    return std::isfinite(degrees) ? std::optional(Celsius{degrees}) : std::nullopt;
  }

  template <class Item>
  std::vector<Item> list(Item (*read)(const Reader&)) const {
    if (!value_.is_array()) expected("a list");
    std::vector<Item> items;
    if (!value_.is_array()) return items;
    for (const Json& one : value_)
      items.push_back(read({one, fmt::format("{}[{}]", where_, items.size()), fault_}));
    return items;
  }

  void expected(std::string_view what) const {
    if (!fault_.empty()) return;
    const std::string found = value_.is_string() ? value_.get<std::string>()
                              : value_.is_null() ? "nothing"
                                                 : value_.type_name();
    fault_ = fmt::format("{}: expected {}, found {}", where_, what, escaped(found));
  }

 private:
  const Json& value_;
  std::string where_;
  std::string& fault_;
};

std::string text_of(const Reader& reader) {
  return reader.text();
}

std::optional<Celsius> temperature_of(const Reader& reader) {
  return reader.temperature();
}

std::string server_address(const Reader& reader, std::string_view plain,
                           std::string_view encrypted) {
  std::string address = reader.line();
  if (!address.starts_with(plain) && !address.starts_with(encrypted)) {
    reader.expected(
        fmt::format("an address that begins with {} or {}", plain, encrypted));
  }
  return address;
}

// A plain addr-spec of RFC 5322 without quotes or comments, so that nothing in it can
// end the command or the header that it stands in.
std::string mail_address(const Reader& reader) {
  std::string address = reader.text();
  const auto is_plain = [](char c) {
    return c > 0x20 && c < 0x7f &&
           std::string_view("<>()[],;:\\\"").find(c) == std::string::npos;
  };
  const auto at = address.find('@');
  const bool one_at = at != std::string::npos && at == address.rfind('@') && at > 0 &&
                      at + 1 < address.size();
  if (!one_at || !std::ranges::all_of(address, is_plain)) {
    reader.expected("an e-mail address");
  }
  return address;
}

std::string id_of(const Reader& reader) {
  std::string id = reader.text();
  const auto is_plain = [](char c) {
    return (c >= '0' && c <= '9') || (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') ||
           c == '-' || c == '.';
  };
  if (id.empty() || !std::ranges::all_of(id, is_plain)) {
    reader.expected("letters, digits, \"-\" and \".\"");
  }
  return id;
}

// The name of a header field is a token (RFC 9110, section 5.1).
std::string header_line(const Reader& reader) {
  std::string line = reader.line();
  const auto is_token = [](char c) {
    return c > 0x20 && c < 0x7f &&
           std::string_view("\"(),/:;<=>?@[\\]{}").find(c) == std::string::npos;
  };
  const auto name = std::string_view(line).substr(0, line.find(':'));
  if (name.empty() || name.size() == line.size() ||
      !std::ranges::all_of(name, is_token)) {
    reader.expected("\"Name: value\"");
  }
  return line;
}

Letter::Section section_of(const Reader& reader) {
  return {.headline = reader.at("headline").text(), .body = reader.at("body").text()};
}

WeekChart::Line chart_line_of(const Reader& reader) {
  return {.place = reader.at("place").text(),
          .lows = reader.at("lows").list(temperature_of),
          .highs = reader.at("highs").list(temperature_of),
          .keep_above = reader.at("keep_above").temperature()};
}

std::optional<WeekChart> chart_of(const Reader& reader) {
  if (reader.is_null()) return std::nullopt;
  return WeekChart{.title = reader.at("title").text(),
                   .days = reader.at("days").list(text_of),
                   .lines = reader.at("lines").list(chart_line_of),
                   .in_fahrenheit = reader.at("in_fahrenheit").flag()};
}

Letter letter_of(const Reader& reader) {
  Letter letter{.id = id_of(reader.at("id")),
                .subject = reader.at("subject").text(),
                .sections = reader.at("sections").list(section_of),
                .chart = chart_of(reader.at("chart"))};
  if (letter.sections.empty()) reader.at("sections").expected("at least one");
  return letter;
}

EmailJob email_of(const Reader& reader) {
  EmailJob job;
  job.address = server_address(reader.at("address"), "smtp://", "smtps://");
  job.ca_file = reader.at("ca_file").text();
  job.encrypted = reader.at("encrypted").flag();
  job.user = reader.at("user").line();
  job.password_file = reader.at("password_file").text();
  job.garden = reader.at("garden").text();
  job.from = mail_address(reader.at("from"));
  job.to = reader.at("to").list(mail_address);
  if (job.to.empty()) reader.at("to").expected("at least one");
  job.time_limit = reader.at("time_limit_s").time_limit();
  job.letter = letter_of(reader.at("letter"));
  return job;
}

HttpJob http_of(const Reader& reader) {
  HttpJob job;
  job.address = server_address(reader.at("address"), "http://", "https://");
  job.ca_file = reader.at("ca_file").text();
  job.headers = reader.at("headers").list(header_line);
  job.bearer_file = reader.at("bearer_file").text();
  job.content_type = reader.at("content_type").line();
  job.id = id_of(reader.at("id"));
  job.content = reader.at("content").text();
  job.time_limit = reader.at("time_limit_s").time_limit();
  return job;
}

}  // namespace

std::string job_json(const Job& job) {
  const Json json = std::visit([](const auto& one) { return to_json(one); }, job);
  // A name from a file that a person wrote, or a sensor's: anything may be in it.
  return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

Result<Job> job_from_json(std::string_view text) {
  const Json json = Json::parse(text, nullptr, /*allow_exceptions=*/false);
  std::string fault;
  Job job;
  if (json.is_object() && json.contains("email")) {
    job = email_of({json["email"], "email", fault});
  } else if (json.is_object() && json.contains("http")) {
    job = http_of({json["http"], "http", fault});
  } else {
    fault = "expected JSON with \"email\" or \"http\"";
  }
  if (!fault.empty()) return refuse(std::move(fault));
  return job;
}

}  // namespace rimeward
