// `rimeward export`: the readings, or the days, as CSV or JSON lines.

#include <memory>
#include <optional>
#include <string>
#include <utility>

#include <fmt/format.h>

#include "daemon/base/text.h"
#include "sensors/escape.h"
#include "tools/cli/date_words.h"
#include "tools/cli/records/export_run.h"
#include "tools/cli/verb.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

constexpr std::string_view kWhat = "WHAT";
constexpr std::string_view kReadings = "readings";
constexpr std::string_view kDays = "days";

// Also one that the settings no longer have, where readings of it are stored.
Result<std::string_view> place_asked(const Context& context, std::string_view word) {
  const auto place = find_place(context.garden, word);
  if (place) return std::string_view((*place)->id);
  for (const SeriesRow& series : context.store.all_series()) {
    if (series.place == word) return word;
  }
  return tl::unexpected(place.error());
}

Result<Channel> channel_asked(std::string_view word) {
  if (const auto channel = channel_named(word)) return *channel;
  std::vector<std::string_view> names;
  for (const ChannelTraits& one : all_channels())
    names.push_back(one.name);
  return refuse(fmt::format("--channel: no channel \"{}\"{}; channels: {}", escaped(word),
                            did_you_mean(word, names), fmt::join(names, ", ")));
}

Result<std::optional<std::chrono::sys_days>> date_asked(const Context& context,
                                                        const Arguments& arguments,
                                                        std::string_view name) {
  const auto word = arguments.text(name);
  if (!word) return std::nullopt;
  const std::chrono::sys_days today{context.zone.local_date(context.now)};
  const auto date = day_from_words(name, *word, today);
  if (!date) return tl::unexpected(date.error());
  return *date;
}

Result<ExportAsked> what_is_asked(const Context& context, const Arguments& arguments) {
  ExportAsked asked;
  if (context.around.format == Format::kJson) asked.style = RecordStyle::kJsonLines;
  if (const auto word = arguments.text("--place")) {
    const auto place = place_asked(context, *word);
    if (!place) return tl::unexpected(place.error());
    asked.place = *place;
  }
  if (const auto word = arguments.text("--channel")) {
    const auto channel = channel_asked(*word);
    if (!channel) return tl::unexpected(channel.error());
    asked.channel = *channel;
  }
  const auto from = date_asked(context, arguments, "--from");
  if (!from) return tl::unexpected(from.error());
  const auto to = date_asked(context, arguments, "--to");
  if (!to) return tl::unexpected(to.error());
  asked.from = *from;
  asked.to = *to;
  if (asked.from && asked.to && *asked.from > *asked.to) {
    return refuse(fmt::format("--from {} is after --to {}", date_text(*asked.from),
                              date_text(*asked.to)));
  }
  return asked;
}

std::uint64_t put_all(const Context& context, const ExportAsked& asked, bool of_days,
                      ExportSink& sink) {
  return of_days ? export_days(context, asked, sink)
                 : export_readings(context, asked, sink);
}

Reply into_file(const Context& context, const ExportAsked& asked, bool of_days,
                std::string_view name, bool replace) {
  const auto sink = FileSink::open(std::string(name), replace);
  if (!sink) return could_not(sink.error().message);
  const std::uint64_t rows = put_all(context, asked, of_days, **sink);
  // JSON lines are in the file; beside them there is no document to tell it in.
  if (context.around.format == Format::kJson) return said({});
  const std::string_view what =
      of_days ? (rows == 1 ? "day" : "days") : (rows == 1 ? "reading" : "readings");
  return said(paragraphs(fmt::format("{} {} written to {}", rows, what, name), 0,
                         context.around.screen));
}

Reply run(const Context& context, const Arguments& arguments) {
  const std::string_view what = arguments.text(kWhat).value_or(kReadings);
  if (what != kReadings && what != kDays) {
    return misused(fmt::format("export: expected readings or days, got \"{}\"{}",
                               escaped(what),
                               did_you_mean(what, std::array{kReadings, kDays})));
  }
  const bool of_days = what == kDays;
  if (of_days && arguments.given("--channel")) {
    return misused("--channel is for readings: days are highs and lows of the air");
  }
  if (arguments.given("--replace") && !arguments.given("--file")) {
    return misused("--replace is for a file: name it with --file FILE");
  }
  const auto asked = what_is_asked(context, arguments);
  if (!asked) return misused(asked.error().message);
  if (const auto file = arguments.text("--file")) {
    return into_file(context, *asked, of_days, *file, arguments.given("--replace"));
  }
  const Conversation* const conversation = context.around.conversation;
  if (conversation != nullptr && conversation->write) {
    WritingSink sink(conversation->write);
    put_all(context, *asked, of_days, sink);
    return said({});
  }
  TextSink sink;
  put_all(context, *asked, of_days, sink);
  return said(sink.take());
}

constexpr Parameter kParameters[]{
    {.name = kWhat,
     .value = "",
     .help = "readings (if left out) or days",
     .offers = Offers::kWords,
     .words = "readings days"},
    {.name = "--place",
     .value = "P",
     .help = "only of this place",
     .offers = Offers::kPlaces},
    {.name = "--channel",
     .value = "C",
     .help = "only of this channel: temperature, humidity, ...",
     .offers = Offers::kWords,
     .words = "temperature humidity soil_temperature soil_moisture light pressure "
              "battery_voltage battery signal forecast_low"},
    {.name = "--from",
     .value = "DATE",
     .help = "from midnight on, by the garden's clock",
     .offers = Offers::kDays},
    {.name = "--to", .value = "DATE", .help = "the last date", .offers = Offers::kDays},
    {.name = "--file",
     .value = "FILE",
     .help = "into this file rather than to the screen",
     .offers = Offers::kFiles},
    {.name = "--replace", .value = "", .help = "the file may be there already"},
};

}  // namespace

VerbDetails describe_export() {
  return {
      .teaching =
          "All that was read, or the highs and lows day by day, to keep, to look at in a "
          "spreadsheet, or for another garden's store: `rimeward import` takes it in "
          "again.\n\n"
          "  rimeward export --place north-frame --from 2026-04-12 --to 2026-04-12\n"
          "  time,sensor,place,channel,value\n"
          "  2026-04-11T22:00:00Z,frame-probe,north-frame,temperature,3.1\n"
          "  2026-04-11T22:00:00Z,frame-probe,north-frame,humidity,81\n\n"
          "  rimeward export days --file 2025.csv --from 2025-01-01 --to 2025-12-31\n\n"
          "CSV as in RFC 4180, with a first line that names the columns; with --json an "
          "object a line, with the same members. Times are UTC, temperatures °C, every "
          "value in the unit of its channel, to a thousandth: humidity, soil_moisture "
          "and "
          "battery in %, light in lx, pressure in hPa, battery_voltage in V, signal in "
          "dBm. Readings that were not believed are left out.\n\n"
          "Of days the columns are date,place,low,low_at,high,high_at: the low of the "
          "night that ends on the date and the high of its day, as `rimeward week` shows "
          "them; a day or night that is not over is left out. low_at and high_at are "
          "empty where a notebook did not have them.\n\n"
          "With --file the file appears when all is in it, and one that is there stays "
          "as it is unless you give --replace. The daemon may run meanwhile.",
      .parameters = kParameters,
      .tabular = true,
      .answer = run};
}

}  // namespace rimeward
