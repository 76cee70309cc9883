#include "tools/cli/records/import_run.h"

#include <algorithm>
#include <chrono>
#include <filesystem>
#include <functional>
#include <map>
#include <optional>
#include <set>
#include <thread>
#include <tuple>
#include <utility>

#include <fmt/format.h>

#include "sensors/escape.h"
#include "tools/cli/records/record_checks.h"
#include "tools/cli/records/record_lines.h"

namespace rimeward {
namespace {

// A group is one commit: long enough that the medium is not written to for little, short
// enough that the daemon does not wait for it. Each day that it reaches costs as much as
// thousands of readings of one.
constexpr std::size_t kGroup = 20'000;
constexpr std::size_t kMostDays = 200;
// A daemon that waits for the store looks again every 0.1 s at the latest (sqlite3.c,
// sqliteDefaultBusyCallback), and gives up after 5 s; in a pause of that length it finds
// the store free.
constexpr std::size_t kGroupsToPause = 8;
constexpr std::chrono::milliseconds kPause{110};
constexpr std::size_t kLinesToProgress = 512;
constexpr auto kImport = "import";  // of actions: the verb, and a detail
constexpr auto kBegun = "begun";

struct Sinks {
  std::function<void(const ReadingRecord&, std::size_t line)> reading;
  std::function<void(const NotedDayRow&, std::size_t line)> day;
};

void note_bad(ImportReport& report, std::size_t line, std::string what) {
  ++report.bad_count;
  if (report.bad.size() < kMostTold) report.bad.push_back({line, std::move(what)});
}

// Goes through a file once.
class Reading {
 public:
  Reading(const Context& context, const ImportAsked& asked, ImportFile& file,
          ImportReport& report)
      : context_(context),
        asked_(asked),
        file_(file),
        report_(report),
        lines_(file.descriptor()) {}

  Result<void> run(std::string_view doing, const Sinks& sinks) {
    // Without its folder, which would leave no room for the bar.
    doing_ = fmt::format("{} {}", doing,
                         std::filesystem::path(file_.name()).filename().string());
    auto first = lines_.next();
    while (first && is_blank(*first))
      first = lines_.next();
    if (!first) return refuse(file_.name() + ": nothing in it");
    const auto form = first->is_too_long
                          ? refuse("the first line has no end that could be found")
                          : RecordForm::of(first->text, asked_.place != nullptr);
    if (!form) {
      return refuse(
          fmt::format("{}:{}: {}", file_.name(), first->number, form.error().message));
    }
    report_.kind = form->kind();
    report_.passed_over = form->passed_over();
    RecordChecks checks({.garden = context_.garden,
                         .grid = DayGrid(context_.zone, context_.garden.day_starts),
                         .now = context_.now,
                         .place = asked_.place,
                         .in_fahrenheit = asked_.in_fahrenheit,
                         .decimal_comma = form->separator() == ';'});
    if (form->separator()) {
      lines_.expect_quotes(*form->separator());
    } else {
      take(*first, *form, checks, sinks);
    }
    while (const auto line = lines_.next())
      take(*line, *form, checks, sinks);
    return {};
  }

 private:
  static bool is_blank(const RecordLine& line) {
    return line.text.find_first_not_of(" \t\r") == std::string_view::npos;
  }

  void take(const RecordLine& line, const RecordForm& form, RecordChecks& checks,
            const Sinks& sinks) {
    if (++since_progress_ % kLinesToProgress == 0) show_progress();
    if (line.is_too_long) {
      return note_bad(report_, line.number,
                      fmt::format("longer than {} kB, from \"{}\" on",
                                  RecordLines::kLongest / 1024, escaped(line.text)));
    }
    if (const auto read = form.read(line.text, fields_); !read) {
      return note_bad(report_, line.number, read.error().message);
    }
    if (form.kind() == RecordKind::kReadings) {
      hand_on(checks.reading(fields_), line.number, sinks.reading);
    } else {
      hand_on(checks.day(fields_), line.number, sinks.day);
    }
  }

  template <class Record, class Sink>
  void hand_on(const Result<std::optional<Record>>& record, std::size_t line,
               const Sink& sink) {
    if (!record) return note_bad(report_, line, record.error().message);
    if (!*record) return;
    ++report_.good;
    if (sink) sink(**record, line);
  }

  void show_progress() const {
    const Conversation* const conversation = context_.around.conversation;
    if (conversation == nullptr || !conversation->progress) return;
    conversation->progress({.doing = doing_,
                            .done = lines_.bytes_done(),
                            .total = file_.size(),
                            .rows = report_.good});
  }

  const Context& context_;
  const ImportAsked& asked_;
  ImportFile& file_;
  ImportReport& report_;
  RecordLines lines_;
  RecordFields fields_;
  std::string doing_;
  std::size_t since_progress_ = 0;
};

// Gathers records and puts a group of them into the store at a time.
class Groups {
 public:
  Groups(const Context& context, ImportReport& report)
      : context_(context), report_(report) {}

  void add(const ReadingRecord& reading, std::size_t line) {
    records_.readings.push_back(
        {.time = reading.time, .series = number_of(reading), .value = reading.value});
    const auto day = std::chrono::floor<std::chrono::days>(reading.time);
    if (std::exchange(last_day_, day) != day) days_reached_.insert(day);
    lines_.push_back(line);
    if (lines_.size() >= kGroup || days_reached_.size() >= kMostDays) put_readings();
  }

  void add(const NotedDayRow& day, std::size_t line) {
    days_.push_back(day);
    lines_.push_back(line);
    if (lines_.size() >= kGroup) put_days();
  }

  void finish() {
    if (!records_.readings.empty()) put_readings();
    if (!days_.empty()) put_days();
    // An earlier import that was stopped may have told the daemon of nothing.
    if (report_.added == 0 && !left_unfinished()) return;
    context_.store.add_action({.at = context_.now, .verb = kImport});
  }

 private:
  bool left_unfinished() const {
    const std::vector<ActionRow> actions = context_.store.actions_after(0);
    const auto last =
        std::ranges::find(actions.rbegin(), actions.rend(), kImport, &ActionRow::verb);
    return last != actions.rend() && last->detail == kBegun;
  }

  // To be written with the first that is new.
  std::optional<ActionRow> beginning() const {
    if (report_.added > 0) return std::nullopt;
    return ActionRow{.at = context_.now, .verb = kImport, .detail = kBegun};
  }

  SeriesId number_of(const ReadingRecord& reading) {
    const auto key = std::tuple(reading.sensor, reading.place, reading.channel);
    if (const auto found = numbers_.find(key); found != numbers_.end()) {
      return found->second;
    }
    const auto number = static_cast<SeriesId>(records_.series.size());
    records_.series.push_back({.id = number,
                               .sensor = std::string(reading.sensor),
                               .place = std::string(reading.place),
                               .channel = reading.channel});
    numbers_.emplace(std::tuple(std::string(reading.sensor), std::string(reading.place),
                                reading.channel),
                     number);
    return number;
  }

  void put_readings() {
    records_.now = context_.now;
    note(context_.store.add_records(records_, beginning()));
    records_.readings.clear();
    days_reached_.clear();
    last_day_.reset();
    const bool daemon_may_run = context_.around.conversation != nullptr;
    if (daemon_may_run && ++groups_ % kGroupsToPause == 0) {
      std::this_thread::sleep_for(kPause);
    }
  }

  void put_days() {
    note(context_.store.add_records(days_, beginning()));
    days_.clear();
  }

  void note(const std::vector<RecordOutcome>& kept) {
    for (std::size_t i = 0; i < kept.size(); ++i) {
      if (kept[i].differs) {
        ++report_.differing;
        if (report_.differing_lines.size() < kMostTold) {
          report_.differing_lines.push_back(lines_[i]);
        }
      }
      if (kept[i].is_new) {
        ++report_.added;
      } else if (kept[i].is_too_old) {
        ++report_.too_old;
      } else if (kept[i].differs) {
        ++report_.different;
      } else {
        ++report_.repeated;
      }
    }
    lines_.clear();
  }

  const Context& context_;
  ImportReport& report_;
  Records records_;
  std::vector<NotedDayRow> days_;
  std::vector<std::size_t> lines_;  // of the records that are gathered
  std::map<std::tuple<std::string, std::string, Channel>, SeriesId, std::less<>> numbers_;
  std::set<std::chrono::sys_days> days_reached_;
  std::optional<std::chrono::sys_days> last_day_;
  std::size_t groups_ = 0;
};

}  // namespace

Result<ImportReport> check_records(const Context& context, const ImportAsked& asked,
                                   ImportFile& file) {
  ImportReport report;
  file.from_start();
  const auto read = Reading(context, asked, file, report).run("checking", {});
  if (!read) return tl::unexpected(read.error());
  return report;
}

Result<ImportReport> import_records(const Context& context, const ImportAsked& asked,
                                    ImportFile& file) {
  ImportReport report;
  file.from_start();
  context.store.follow_days(DayGrid(context.zone, context.garden.day_starts));
  Groups groups(context, report);
  const auto add = [&groups](const auto& record, std::size_t line) {
    groups.add(record, line);
  };
  const auto read = Reading(context, asked, file, report)
                        .run("importing", {.reading = add, .day = add});
  if (!read) return tl::unexpected(read.error());
  groups.finish();
  return report;
}

}  // namespace rimeward
