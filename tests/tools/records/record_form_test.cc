// Lines of records, one by one: what each says, and every way to be bad.

#include "tools/cli/records/record_form.h"

#include <array>
#include <cstdio>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include <doctest/doctest.h>
#include <fmt/format.h>
#include <unistd.h>

#include "sensors/iso_time.h"
#include "tests/daemon/store/store_builders.h"
#include "tests/support/sample_store.h"
#include "tests/support/scratch_folder.h"
#include "tools/cli/records/record_checks.h"
#include "tools/cli/records/record_lines.h"
#include "tools/cli/records/record_text.h"

namespace rimeward {
namespace {

constexpr std::string_view kReadings = "time,sensor,place,channel,value";
constexpr std::string_view kDays = "date,place,low,low_at,high,high_at";

// What is said of one line under a first line: the refusal, or "".
std::string said_of(std::string_view first, std::string_view line,
                    bool in_fahrenheit = false) {
  const Garden garden = sample_garden();
  const auto form = RecordForm::of(first, false);
  if (!form) return form.error().message;
  RecordChecks checks({.garden = garden,
                       .grid = hochfeld_days(),
                       .now = sample_evening(),
                       .in_fahrenheit = in_fahrenheit,
                       .decimal_comma = form->separator() == ';'});
  RecordFields fields;
  const auto read = form->read(line, fields);
  if (!read) return read.error().message;
  if (form->kind() == RecordKind::kReadings) {
    const auto reading = checks.reading(fields);
    return reading ? "" : reading.error().message;
  }
  const auto day = checks.day(fields);
  return day ? "" : day.error().message;
}

TEST_CASE("every way for a reading to be bad is told in its own words") {
  struct Row {
    const char* line;
    const char* said;
  };
  const Row rows[] = {
      {"2026-04-08T00:00:00Z,a-1,yard,temperature,-3.25", ""},
      {"2026-04-08T02:00+02:00, a-1 ,Yard,temperature,+3", ""},
      {"\"2026-04-08T00:00:00Z\",\"a-1\",\"yard\",\"temperature\",\"3\"", ""},
      {"", ""},
      {" , ,,, ", ""},
      {"2026-04-08T00:00:00Z,a-1,yard,temperature", "expected 5 fields, got 4"},
      {"2026-04-08T00:00:00Z,a-1,yard,temperature,3,4", "expected 5 fields, got 6"},
      {"2026-04-08T00:00:00Z,a-1,yard,temperature,\"3",
       "a quote opens a field and none closes it"},
      {"2026-04-08T00:00:00Z,a-1,yard,temperature,\"3\"4",
       "more follows the quote that closes a field; a quote within one is written twice"},
      {",a-1,yard,temperature,3", "time is missing"},
      {"yesterday,a-1,yard,temperature,3",
       "time \"yesterday\" is no time such as 2026-04-12T18:03:20Z"},
      {"2026-04-08T00:00:00,a-1,yard,temperature,3",
       "time \"2026-04-08T00:00:00\" is no time such as 2026-04-12T18:03:20Z"},
      {"2026-02-30T00:00:00Z,a-1,yard,temperature,3",
       "time \"2026-02-30T00:00:00Z\" is no time such as 2026-04-12T18:03:20Z"},
      {"1899-12-31T23:59:59Z,a-1,yard,temperature,3",
       "time 1899-12-31T23:59:59Z is before 1900"},
      {"2026-04-12T16:40:01Z,a-1,yard,temperature,3",
       "time 2026-04-12T16:40:01Z is still to come"},
      {"2026-04-08T00:00:00Z,,yard,temperature,3", "sensor is missing"},
      {"2026-04-08T00:00:00Z,My Probe,yard,temperature,3",
       "sensor \"My Probe\" is no id: lower-case letters, digits and hyphens between "
       "them, at most 64"},
      {"2026-04-08T00:00:00Z,a-1,,temperature,3", "place is missing"},
      {"2026-04-08T00:00:00Z,a-1,yarb,temperature,3",
       "no place \"yarb\"; did you mean \"yard\"?; places: glasshouse, north-frame, "
       "south-frame, pea-bed, yard"},
      {"2026-04-08T00:00:00Z,a-1,yard,,3", "channel is missing"},
      {"2026-04-08T00:00:00Z,a-1,yard,humidty,3",
       "no channel \"humidty\"; did you mean \"humidity\"?; channels: temperature, "
       "humidity, soil_temperature, soil_moisture, light, pressure, battery_voltage, "
       "battery, signal, forecast_low"},
      {"2026-04-08T00:00:00Z,a-1,yard,temperature,", "value is missing"},
      {"2026-04-08T00:00:00Z,a-1,yard,temperature,abc", "value \"abc\" is not a number"},
      {"2026-04-08T00:00:00Z,a-1,yard,temperature,3 C", "value \"3 C\" is not a number"},
      {"2026-04-08T00:00:00Z,a-1,yard,temperature,nan", "value \"nan\" is not a number"},
      {"2026-04-08T00:00:00Z,a-1,yard,temperature,1e999",
       "value \"1e999\" is not a number"},
      {"2026-04-08T00:00:00Z,a-1,yard,temperature,\"3,5\"",
       "value \"3,5\" is not a number; a decimal comma is read only where ; stands "
       "between the fields"},
      {"2026-04-08T00:00:00Z,a-1,yard,temperature,70.1",
       "value 70.1 is outside of what temperature can be, -60 to 70 °C"},
      {"2026-04-08T00:00:00Z,a-1,yard,humidity,-1",
       "value -1 is outside of what humidity can be, 0 to 100 %"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.line);
    CHECK(said_of(kReadings, row.line) == row.said);
  }
  CHECK(said_of(kReadings, "2026-04-08T00:00:00Z,a-1,yard,temperature,200", true) ==
        "value 200 is outside of what temperature can be, -76 to 158 °F");
}

TEST_CASE("every way for a day to be bad is told in its own words") {
  struct Row {
    const char* line;
    const char* said;
  };
  const Row rows[] = {
      {"2024-04-12,yard,1.5,06:20,17,14:30", ""},
      {"12.04.2024,yard,1.5,2024-04-12T04:20:00Z,17,-", ""},
      {"1.2.2024,yard,-,,17,", ""},
      {"2024-04-12,yard,,,,", ""},
      {",,,,,", ""},
      {",yard,1,,,", "date is missing"},
      {"04/12/2024,yard,1,,,",
       "date \"04/12/2024\" is none such as 2024-04-12, or 12.04.2024 with the day "
       "first; "
       "with / it could be either"},
      {"31.02.2024,yard,1,,,",
       "date \"31.02.2024\" is none such as 2024-04-12, or 12.04.2024 with the day "
       "first"},
      {"04.13.2024,yard,1,,,",
       "date \"04.13.2024\" is none such as 2024-04-12, or 12.04.2024 with the day "
       "first"},
      {"12.04.24,yard,1,,,",
       "date \"12.04.24\" is none such as 2024-04-12, or 12.04.2024 with the day first"},
      {"2026-04-13,yard,1,,,", "date 2026-04-13 is still to come"},
      {"1899-12-31,yard,1,,,", "date 1899-12-31 is before 1900"},
      {"2024-04-12,yard,cold,,,", "low \"cold\" is not a number"},
      {"2024-04-12,yard,,,99,",
       "high 99 is outside of what temperature can be, -60 to 70 °C"},
      {"2024-04-12,yard,1,dawn,,",
       "low_at \"dawn\" is no time such as 2026-04-12T04:20:00Z, or 06:20 by the "
       "garden's clock"},
      {"2024-04-12,yard,1,2024-04-20T04:20:00Z,,",
       "low_at 2024-04-20T04:20:00Z is not of the date"},
      {"2026-04-12,yard,,,17,18:50", "high_at 18:50 is still to come"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.line);
    CHECK(said_of(kDays, row.line) == row.said);
  }
}

TEST_CASE("every way for a line of JSON to be bad is told in its own words") {
  const std::string_view first = R"({"time":"","sensor":"","value":1})";
  struct Row {
    const char* line;
    const char* said;
  };
  const Row rows[] = {
      {R"({"time":"2026-04-08T00:00:00Z","sensor":"a-1","place":"yard",)"
       R"("channel":"temperature","value":-3.25,"note":true})",
       ""},
      {"", ""},
      {R"({"time":"2026-04-08T00:00:00Z","sensor":"a-1","place":"yard",)"
       R"("channel":"temperature","value":null})",
       "value is missing"},
      {R"({"value":true})", "value: expected text or a number, got true or false"},
      {R"({"value":[1]})", "value: expected text or a number, got an array"},
      {R"({"value":{"a":1}})", "value: expected text or a number, got an object"},
      {"[1]", "no JSON object"},
      {"17", "no JSON object"},
      {R"({"value":1)", "not JSON, from byte 11 on"},
      {R"({"value":1} {)", "not JSON, from byte 13 on"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.line);
    CHECK(said_of(first, row.line) == row.said);
  }
  CHECK(said_of(first, std::string_view("{}\0{", 4)) == "not JSON: a NUL in it");
}

TEST_CASE("a first line that tells no form is refused with what would") {
  CHECK(RecordForm::of("a,b,c", true)
            .error()
            .message.starts_with(
                "no form of records: a first line names the columns: time, sensor"));
  CHECK(RecordForm::of("date,low,Date", true).error().message ==
        "the column date stands twice");
  CHECK(RecordForm::of("date,low", false).error().message ==
        "no column place; add one, or say the place of all with --place P");
  CHECK(RecordForm::of("date,low", true));
  CHECK(RecordForm::of("date,place", false).error().message ==
        "no column low and none high: days have at least one");
  CHECK(RecordForm::of("time,place,value,channel", false).error().message ==
        "no column sensor: readings have time, sensor, place, channel and value");
  CHECK(RecordForm::of("{]", false).error().message == "not JSON, from byte 2 on");
}

// All lines of a text, as an import gets them: "number: text".
std::vector<std::string> lines_of(std::string_view text, char separator = 0) {
  const std::unique_ptr<std::FILE, int (*)(std::FILE*)> file(std::tmpfile(),
                                                             &std::fclose);
  REQUIRE(std::fwrite(text.data(), 1, text.size(), file.get()) == text.size());
  std::rewind(file.get());
  RecordLines lines(fileno(file.get()));
  if (separator != 0) lines.expect_quotes(separator);
  std::vector<std::string> result;
  while (const auto line = lines.next()) {
    result.push_back(
        fmt::format("{}{} {}", line->number, line->is_too_long ? "!" : ":", line->text));
  }
  CHECK(lines.bytes_done() == text.size());
  return result;
}

TEST_CASE("lines end in LF or CRLF or with the file, and a byte order mark is no text") {
  using Lines = std::vector<std::string>;
  CHECK(lines_of("").empty());
  CHECK(lines_of("a\nb") == Lines{"1: a", "2: b"});
  CHECK(lines_of("a\r\n\r\nb\r\n") == Lines{"1: a", "2: ", "3: b"});
  CHECK(lines_of("\xef\xbb\xbf"
                 "a\n\xef\xbb\xbf"
                 "b\n") == Lines{"1: a",
                                 "2: \xef\xbb\xbf"
                                 "b"});
}

TEST_CASE(
    "a quoted line end is part of its field, an unclosed quote ends with its line") {
  using Lines = std::vector<std::string>;
  CHECK(lines_of("a,\"b\nc\",d\ne\n", ',') == Lines{"1: a,\"b\nc\",d", "3: e"});
  CHECK(lines_of("\"a\"\"\nb\"\nc", ',') == Lines{"1: \"a\"\"\nb\"", "3: c"});
  CHECK(lines_of("a,\"b\nc", ',') == Lines{"1: a,\"b", "2: c"});
  CHECK(lines_of("a,\"b\nc\"", ',') == Lines{"1: a,\"b\nc\""});
  // Only at the start of a field does a quote open it.
  CHECK(lines_of("3\" pot,b\nc \"\"d\"\ne", ',') ==
        Lines{"1: 3\" pot,b", "2: c \"\"d\"", "3: e"});
  CHECK(lines_of("a;\"b\nc\"\nd", ';') == Lines{"1: a;\"b\nc\"", "3: d"});
  CHECK(lines_of("a,\"b\n", 0) == Lines{"1: a,\"b"});
}

TEST_CASE("a line beyond the bound is told by its beginning, and the next is read") {
  const std::string longest(RecordLines::kLongest, 'x');
  const std::string shown(40, 'x');
  using Lines = std::vector<std::string>;
  CHECK(lines_of("a\n" + longest + "\nb\n") == Lines{"1: a", "2: " + longest, "3: b"});
  CHECK(lines_of("a\n" + longest + "x\nb") == Lines{"1: a", "2! " + shown, "3: b"});
  CHECK(lines_of(longest + longest + longest) == Lines{"1! " + shown});
  const std::string endless = "\"" + std::string(40 * RecordLines::kLongest, 'x');
  CHECK(lines_of("a\n" + endless + "\nb", ',').size() == 3);
  // Many lines after a quote that nothing closes: each is read for itself.
  std::string many = "\"open\n";
  for (int i = 0; i < 100'000; ++i)
    many += "x\n";
  CHECK(lines_of(many, ',').size() == 100'001);
}

TEST_CASE("values are written as short as they are exact") {
  CHECK(text_of(0) == "0");
  CHECK(text_of(-5) == "-0.005");
  CHECK(text_of(18'000) == "18");
  CHECK(text_of(-1'500) == "-1.5");
  CHECK(text_of(100'120) == "100.12");
}

TEST_CASE("a field that needs quotes gets them") {
  // RFC 4180, section 2, 6 and 7.
  CHECK(csv_field("north-frame") == "north-frame");
  CHECK(csv_field("a,b") == "\"a,b\"");
  CHECK(csv_field("a \"b\"") == "\"a \"\"b\"\"\"");
  CHECK(csv_field("a\nb") == "\"a\nb\"");
}

}  // namespace
}  // namespace rimeward
