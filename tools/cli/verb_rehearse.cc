// `rimeward rehearse`: recorded readings through the same turns as the daemon's. Says
// what would have been forecast and noticed, and how good the outlooks were beside simple
// ones.

#include <cmath>
#include <fstream>
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include <fmt/format.h>

#include "sensors/iso_time.h"
#include "tools/cli/rehearsal_plan.h"
#include "tools/cli/rehearsal_report.h"
#include "tools/cli/verb.h"
#include "tools/cli/words.h"
#include "tools/rehearsal.h"

namespace rimeward {
namespace {

constexpr std::string_view kTeaching =
    "Runs recorded readings through the same turns as the daemon's and prints what "
    "would\n"
    "have been noticed, and how the outlooks did against the lows that came.\n"
    "\n"
    "DATA is a CSV file whose first line names the columns time (ISO 8601 with offset "
    "or\n"
    "Z), temperature (degrees C) and, where there are any, humidity (percent) and "
    "place. A\n"
    "column pressure (hPa) is used when asked for by --pressure; others are passed "
    "over.\n"
    "Say where the readings are from by --latitude, --longitude and --time-zone, or name "
    "a\n"
    "place of the settings file by --place; then its kind, keep-above and fleece are "
    "used.\n"
    "With --garden every place of the settings file is rehearsed, by DATA's column "
    "place.\n"
    "With --log, DATA is a captured log of messages to the garden of the settings file.\n"
    "\n"
    "  rimeward rehearse spring.csv --latitude 48.41 --longitude 9.52 \\\n"
    "    --time-zone Europe/Berlin --nights nights.csv\n"
    "  rimeward rehearse spring.csv --place north-frame\n"
    "  rimeward rehearse spring.csv --garden --told spring.jsonl\n"
    "\n"
    "--told names a file of what the gardener said meanwhile, a line each, in the form "
    "of\n"
    "the broker's command topic with a time, batches included:\n"
    "\n"
    "  {\"at\": \"2026-04-12T17:10:00Z\", \"verb\": \"cover\", \"place\": \"pea-bed\", "
    "\"layers\": 1}\n"
    "\n"
    "--nights OUT.csv writes each outlook beside the low that came: night (date of the\n"
    "morning), place, issue, issued_at (UTC), low, low10, low90 and observed_low "
    "(degrees\n"
    "C), odds_below_0. An outlook looks only at what was read before it was issued.";

constexpr Parameter kParameters[]{
    {"DATA", "", "recorded readings (CSV), or a captured log with --log", true,
     Offers::kFiles},
    {"--latitude", "DEGREES", "north is positive"},
    {"--longitude", "DEGREES", "east is positive"},
    {"--time-zone", "ZONE", "such as Europe/Berlin"},
    {.name = "--place-kind",
     .value = "KIND",
     .help = "outdoors (if left out), bed, frame, polytunnel, greenhouse",
     .offers = Offers::kWords,
     .words = "outdoors bed frame polytunnel greenhouse"},
    {"--keep-above", "DEGREES", "°C that the plants must not go below; 0 if left out"},
    {.name = "--place",
     .value = "PLACE",
     .help = "take all this from a place of the settings file",
     .offers = Offers::kPlaces},
    {"--garden", "", "all places of the settings file, by DATA's column place"},
    {.name = "--told",
     .value = "FILE",
     .help = "what the gardener said meanwhile, a line of JSON each",
     .offers = Offers::kFiles},
    {.name = "--prior",
     .value = "FILE",
     .help = "where the outlook starts from, as JSON",
     .offers = Offers::kFiles},
    {.name = "--nights",
     .value = "FILE",
     .help = "write every outlook to this CSV file",
     .offers = Offers::kFiles},
    {"--pressure", "", "use the file's column pressure (hPa), too"},
    {"--log", "", "DATA is a captured log of messages"},
};

// What the gardener said, up to the time of a reading.
class ToldSoFar {
 public:
  ToldSoFar(const std::vector<ActionRow>& told, Rehearser& rehearser)
      : told_(told), rehearser_(rehearser) {}

  void until(Instant at) {
    for (; next_ < told_.size() && told_[next_].at < at; ++next_)
      rehearser_.feed(told_[next_]);
  }

 private:
  std::span<const ActionRow> told_;
  Rehearser& rehearser_;
  std::size_t next_ = 0;
};

Result<Rehearsal> run_log(const std::string& file, const std::vector<ActionRow>& told,
                          Rehearser& rehearser) {
  ToldSoFar so_far(told, rehearser);
  std::ifstream stream(file);
  if (!stream) return refuse(file + ": cannot be read");
  std::string line;
  for (std::size_t number = 1; std::getline(stream, line); ++number) {
    if (line.empty() || line.starts_with('#')) continue;
    const auto arrival = arrival_from_line(line);
    if (!arrival) {
      return refuse(fmt::format("{}:{}: {}", file, number, arrival.error().message));
    }
    so_far.until(arrival->at);
    rehearser.feed(*arrival);
  }
  return rehearser.finish();
}

Result<Rehearsal> run_readings(const std::string& file, RecordedFile::Pressure pressure,
                               const RehearsalPlan& plan, Rehearser& rehearser) {
  ToldSoFar so_far(plan.told, rehearser);
  auto recorded = RecordedFile::open(file, pressure);
  if (!recorded) return tl::unexpected(recorded.error());
  while (true) {
    const auto reading = recorded->next();
    if (!reading) return tl::unexpected(reading.error());
    const std::optional<RecordedReading>& one = *reading;
    if (!one) return rehearser.finish();
    so_far.until(one->time);
    rehearser.feed(*one, rehearsal_topic(plan.garden, *one));
  }
}

std::string date_of(const RehearsedOutlook& one) {
  return date_text(date_of_night(one.outlook.solar_day));
}

// Adding zero turns -0.0 into 0.0.
std::string thousandths(double value) {
  return fmt::format("{:.3f}", std::round(value * 1000) / 1000 + 0.0);
}

bool write_nights(const std::string& file, const Rehearsal& rehearsal) {
  std::ofstream stream(file);
  stream << "night,place,issue,issued_at,low,low10,low90,odds_below_0,observed_low\n";
  for (const RehearsedOutlook& one : rehearsal.outlooks) {
    const Outlook& outlook = one.outlook;
    const Instant issued = whole_second(outlook.issued_at);
    stream << fmt::format(
        "{},{},{},{},{},{},{},{:.4f},{}\n", date_of(one), one.place,
        name_of(outlook.moment), format_utc(issued), thousandths(outlook.low.degrees),
        thousandths(outlook.low10.degrees), thousandths(outlook.low90.degrees),
        odds_below(outlook, Celsius{0}).value,
        one.came ? thousandths(one.came->degrees) : "");
  }
  stream.flush();
  return stream.good();
}

Reply answer(const Surroundings& around, const Arguments& arguments) {
  const auto plan = plan_rehearsal(around, arguments);
  if (!plan) return plan.error();
  const auto zone = Zone::named(plan->garden.time_zone);
  if (!zone) return misused("--time-zone: " + zone.error().message);
  const std::string file(arguments.text("DATA").value_or(""));
  const bool is_log = arguments.given("--log");
  const auto pressure = arguments.given("--pressure")
                            ? RecordedFile::Pressure::kWanted
                            : RecordedFile::Pressure::kPassedOver;
  Rehearser rehearser(plan->garden, *zone,
                      is_log ? ClockSource::kSystem : ClockSource::kReadings,
                      plan->prior);
  const auto rehearsal = is_log ? run_log(file, plan->told, rehearser)
                                : run_readings(file, pressure, *plan, rehearser);
  if (!rehearsal) return could_not(rehearsal.error().message);
  if (const auto nights = arguments.text("--nights")) {
    const std::string out(*nights);
    if (!write_nights(out, *rehearsal)) return could_not(out + ": cannot be written");
  }
  if (around.format == Format::kJson) {
    return said(rehearsal_json(*rehearsal, plan->garden, *zone));
  }
  return said(rehearsal_text(*rehearsal, plan->garden, *zone, around.screen));
}

}  // namespace

VerbDetails describe_rehearse() {
  return {.teaching = kTeaching, .parameters = kParameters, .answer_alone = &answer};
}

}  // namespace rimeward
