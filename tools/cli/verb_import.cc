// `rimeward import`: readings from a file, or highs and lows from a notebook, into the
// store.

#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "tools/cli/json_text.h"
#include "tools/cli/records/import_run.h"
#include "tools/cli/verb.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

constexpr std::string_view kFile = "FILE";

std::string count_of(std::uint64_t count, std::string_view one, std::string_view more) {
  return fmt::format("{} {}", count, count == 1 ? one : more);
}

// "april.csv:17: value "abc" is not a number", a line each, and how many more.
std::string bad_lines(const ImportReport& report, const ImportFile& file) {
  std::string text;
  for (const BadLine& bad : report.bad)
    text += fmt::format("{}:{}: {}\n", file.name(), bad.line, bad.what);
  if (report.bad_count > report.bad.size()) {
    const std::uint64_t more = report.bad_count - report.bad.size();
    text += fmt::format("and {}\n",
                        count_of(more, "more line like these", "more lines like these"));
  }
  return text;
}

Reply refused(const ImportReport& report, const ImportFile& file) {
  return could_not(
      bad_lines(report, file) +
      fmt::format("nothing was imported: mend {}, or leave {} out with --skip-bad",
                  report.bad_count == 1 ? "this line" : "these lines",
                  report.bad_count == 1 ? "it" : "them"));
}

std::string lines_text(const ImportReport& report) {
  std::string text = fmt::format("({} {}", report.differing == 1 ? "line" : "lines",
                                 fmt::join(report.differing_lines, ", "));
  if (report.differing > report.differing_lines.size()) {
    text += fmt::format(" and {} more", report.differing - report.differing_lines.size());
  }
  return text + ")";
}

std::string text_of_report(const ImportReport& report) {
  const bool days = report.kind == RecordKind::kDays;
  std::string text =
      report.added == 0
          ? fmt::format("no {} imported", days ? "day" : "reading")
          : count_of(report.added, days ? "day" : "reading", days ? "days" : "readings") +
                " imported";
  if (report.repeated > 0) {
    text += fmt::format(", {} there already", count_of(report.repeated, "was", "were"));
  }
  if (report.too_old > 0) {
    text += fmt::format(", {} left out: older than keep_readings in the settings",
                        count_of(report.too_old, "was", "were"));
  }
  if (report.differing > 0) {
    text +=
        fmt::format(", {} from what is stored, which stays {}",
                    count_of(report.differing, "differs", "differ"), lines_text(report));
  }
  if (report.bad_count > 0) {
    text +=
        fmt::format(", {} left out", count_of(report.bad_count, "bad line", "bad lines"));
  }
  if (!report.passed_over.empty()) {
    text += fmt::format("\ncolumns passed over: {}", fmt::join(report.passed_over, ", "));
  }
  return text;
}

std::string json_of_report(const Context& context, const ImportReport& report,
                           const ImportFile& file) {
  nlohmann::ordered_json json = json_heading(context);
  json["file"] = file.name();
  json["kind"] = report.kind == RecordKind::kDays ? "days" : "readings";
  json["imported"] = report.added;
  json["there_already"] = report.repeated;
  json["too_old"] = report.too_old;
  json["different"] = report.differing;
  json["different_lines"] = report.differing_lines;
  json["bad"] = report.bad_count;
  json["bad_lines"] = nlohmann::ordered_json::array();
  for (const BadLine& bad : report.bad) {
    json["bad_lines"].push_back({{"line", bad.line}, {"reason", bad.what}});
  }
  json["columns_passed_over"] = report.passed_over;
  return json_text(json);
}

Reply told(const Context& context, const ImportReport& report, const ImportFile& file) {
  Reply reply;
  reply.trouble = bad_lines(report, file);
  if (!reply.trouble.empty()) reply.trouble.pop_back();
  reply.text = context.around.format == Format::kJson
                   ? json_of_report(context, report, file)
                   : paragraphs(text_of_report(report), 0, context.around.screen);
  return reply;
}

Reply run(const Context& context, const Arguments& arguments) {
  ImportAsked asked{.in_fahrenheit = arguments.given("--fahrenheit")};
  if (const auto word = arguments.text("--place")) {
    const auto place = find_place(context.garden, *word);
    if (!place) return misused(place.error().message);
    asked.place = *place;
  }
  auto file = ImportFile::open(arguments.text(kFile).value_or(""));
  if (!file) return could_not(file.error().message);
  const bool skip_bad = arguments.given("--skip-bad");
  if (!skip_bad) {
    file->keep_all(context.around.conversation);
    const auto checked = check_records(context, asked, *file);
    if (!checked) return could_not(checked.error().message);
    if (checked->bad_count > 0) return refused(*checked, *file);
  }
  const auto report = import_records(context, asked, *file);
  if (!report) return could_not(report.error().message);
  Reply reply = told(context, *report, *file);
  // A file that someone writes to meanwhile may have become bad since it was checked.
  if (!skip_bad && report->bad_count > 0) reply.status = 1;
  return reply;
}

constexpr Parameter kParameters[]{
    {.name = kFile,
     .value = "",
     .help = "the file, or - for standard input",
     .required = true,
     .offers = Offers::kFiles},
    {.name = "--place",
     .value = "P",
     .help = "the place of lines that name none",
     .offers = Offers::kPlaces},
    {.name = "--skip-bad", .value = "", .help = "import the good lines, tell the others"},
    {.name = "--fahrenheit", .value = "", .help = "the file's temperatures are in °F"},
};

}  // namespace

VerbDetails describe_import() {
  return {
      .teaching =
          "Takes readings, or highs and lows day by day, into the store: what `rimeward "
          "export` wrote, what another logger recorded, or your old notebook. The first "
          "line of the file says which, and may name its columns in any order.\n\n"
          "  date,place,low,high\n"
          "  2024-04-12,north-frame,-1.2,18.4\n"
          "  2024-04-13,north-frame,0.5,\n\n"
          "  rimeward import notebook.csv\n"
          "  2 days imported\n\n"
          "Days have date and low or high, readings have time, sensor, channel and "
          "value; "
          "both have place, unless you say it with --place. A date is 2024-04-12, or "
          "12.04.2024 with the day first. The low is that of the night that ends on the "
          "date, the high that of its day. low_at and high_at may say when: 06:20 by the "
          "garden's clock, or 2024-04-12T04:20:00Z. What is empty, or has a dash, was "
          "not "
          "noted. A time of readings has its offset or Z. Temperatures are °C, or °F "
          "with "
          "--fahrenheit. A spreadsheet that writes -1,5 puts ; between its fields: that "
          "is read, too. JSON lines, an object a line with the same members, will do as "
          "well. Other columns are passed over.\n\n"
          "Every line is looked at first. Where one is bad, nothing is imported and you "
          "are told which and why; with --skip-bad the good ones are imported all the "
          "same. What comes by standard input is kept in a temporary file (in TMPDIR or "
          "/tmp) for that; with --skip-bad it is read as it comes.\n\n"
          "  april.csv:17: value \"abc\" is not a number\n\n"
          "Nothing gets in twice: what is stored already is left as it is. Where the "
          "file "
          "says something else of the same second or date, what is stored stays, and you "
          "are told the line. The same file once more changes nothing. An import that "
          "was stopped halfway has stored part of the file and harmed nothing: run it "
          "again and the rest comes in.\n\n"
          "The daemon may run meanwhile; it then starts over with what was imported, and "
          "warmth, week, season and chart show it. A large file goes in fastest in the "
          "order of time. Take a backup before.",
      .parameters = kParameters,
      .writes = true,
      .answer = run};
}

}  // namespace rimeward
