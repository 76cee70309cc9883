// `rimeward store`: how large the store is, what takes the room, how much a day wears the
// card, and whether it is whole.

#include <cmath>
#include <filesystem>
#include <string>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/store/store_care.h"
#include "sensors/iso_time.h"
#include "tools/cli/count_text.h"
#include "tools/cli/json_text.h"
#include "tools/cli/store_words.h"
#include "tools/cli/table.h"
#include "tools/cli/verb.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::string_view kCheck = "--check";
constexpr std::string_view kCompact = "--compact";
constexpr std::string_view kToMend =
    "Restore a backup: stop rimewardd, put the backup in the store's place, take away "
    "the "
    "files beside it that end in -wal and -shm, and start rimewardd. Without a backup, "
    "`rimeward export` may still read a part; keep a copy of the file first.";

// Worth a line, and shrinking: so much that is free, and so large a part of the file.
constexpr std::uint64_t kMuchFree = 4'000'000;
constexpr std::uint64_t kFreePart = 4;
// Of a store of fewer days much is what every store has.
constexpr std::int64_t kYoung = 60;

struct StoreAnswer {
  std::filesystem::path file;
  StoreSize size;
  Wear wear;
  std::int64_t days_to_pack = 0;
  std::optional<Compacted> compacted{};
  bool is_checked = false;
  std::vector<std::string> faults{};
};

std::string date_and_time(const Context& context, std::optional<Instant> at) {
  if (!at) return "none yet";
  return context.zone.date_text(*at) + " " + context.zone.time_text(*at);
}

std::string size_line(const StoreSize& size) {
  std::string text = bytes_text(size.file_bytes);
  if (size.log_bytes > 0) {
    text += fmt::format(", and {} in the log beside it", bytes_text(size.log_bytes));
  }
  return text;
}

std::string readings_line(const Context& context, const StoreSize& size) {
  std::string text = count_text(size.readings);
  if (!size.oldest) return text;
  return text + fmt::format(", since {}", context.zone.date_text(*size.oldest));
}

std::string packed_line(const Context& context, const StoreAnswer& answer) {
  const PackingState& state = answer.size.packing;
  const std::string to_go =
      answer.days_to_pack == 0
          ? ""
          : fmt::format(", {} {} to go", count_text(answer.days_to_pack),
                        answer.days_to_pack == 1 ? "day" : "days");
  if (!state.last_packed) return "no day yet" + to_go;
  // Of UTC days, of which the garden's may be the next by its end.
  return "all days up to " +
         context.zone.date_text(*state.last_packed + std::chrono::hours{12}) + to_go;
}

std::string wear_line(const Wear& wear) {
  if (!wear.bytes_a_day) return "not known before a whole day (UTC) has passed";
  return fmt::format("{} a day ({}), {} in all",
                     bytes_text(static_cast<std::uint64_t>(*wear.bytes_a_day)),
                     wear.days == 1 ? std::string("yesterday")
                                    : fmt::format("the last {} days", wear.days),
                     bytes_text(static_cast<std::uint64_t>(wear.bytes)));
}

void add_packing(Table& about, const Context& context, const StoreAnswer& answer) {
  const StoreSize& size = answer.size;
  if (size.free_bytes > kMuchFree && size.free_bytes > size.file_bytes / kFreePart) {
    about.add_row({{"of that, free"},
                   {fmt::format("{}, which readings to come fill first; "
                                "`rimeward store --compact` gives it back to the disk",
                                bytes_text(size.free_bytes))}});
  }
  about.add_row({{"packed"}, {packed_line(context, answer)}});
  if (size.readings_kept_from) {
    about.add_row({{"kept"},
                   {fmt::format("readings from {} on; highs and lows for ever",
                                context.zone.date_text(*size.readings_kept_from))}});
  }
  about.add_row({{"written"}, {wear_line(answer.wear)}});
}

std::string text_of_answer(const Context& context, const StoreAnswer& answer) {
  const Screen& screen = context.around.screen;
  const StoreSize& size = answer.size;
  Table about({{.heading = ""}, {.heading = "", .wraps = true}});
  about.add_row({{"store"}, {answer.file.string()}});
  about.add_row({{"size"}, {size_line(size)}});
  about.add_row({{"readings"}, {readings_line(context, size)}});
  about.add_row({{"newest"}, {date_and_time(context, size.newest)}});
  about.add_row({{"days held"}, {count_text(size.days_held)}});
  if (size.readings > 0) {
    about.add_row({{"a reading takes"},
                   {fmt::format("{:.1f} bytes, {}", bytes_a_reading(size),
                                size.days_held < kYoung ? "so far" : "all told")}});
  }
  add_packing(about, context, answer);
  about.add_row({{"version"}, {fmt::format("{}", size.version)}});
  if (answer.is_checked) {
    const bool whole = answer.faults.empty();
    about.add_row(
        {{"check"},
         {whole ? "whole" : "DAMAGED", whole ? Style::kPlain : Style::kUrgent}});
  }
  Table rows({{.heading = "what it holds"},
              {.heading = "rows", .align = Column::Align::kRight}});
  for (const RowCount& one : size.rows) {
    rows.add_row(
        {{std::string(one.kind)}, {(one.is_more ? "over " : "") + count_text(one.rows)}});
  }
  std::string text =
      paragraphs(garden_heading(context.garden, context.zone, context.now), 0, screen);
  if (answer.compacted) {
    text += "\n" + paragraphs(fmt::format("compacted: {} before, {} after",
                                          bytes_text(answer.compacted->bytes_before),
                                          bytes_text(answer.compacted->bytes_after)),
                              0, screen);
  }
  text += "\n" + about.text(screen) + "\n" + rows.text(screen);
  if (answer.faults.empty()) return text;
  text += "\nSQLite finds:\n";
  for (const std::string& fault : answer.faults)
    text += paragraphs(fault, 2, screen);
  return text + "\n" + paragraphs(kToMend, 0, screen);
}

std::string json_of_answer(const Context& context, const StoreAnswer& answer) {
  const StoreSize& size = answer.size;
  Json json = json_heading(context);
  json["store"] = answer.file.string();
  json["file_bytes"] = size.file_bytes;
  json["log_bytes"] = size.log_bytes;
  json["version"] = size.version;
  json["readings"] = size.readings;
  json["oldest_reading_at"] = json_of(size.oldest);
  json["newest_reading_at"] = json_of(size.newest);
  json["days_held"] = size.days_held;
  json["bytes_a_reading"] =
      size.readings > 0 ? Json(std::round(bytes_a_reading(size) * 10) / 10) : Json();
  json["rows"] = Json::array();
  for (const RowCount& one : size.rows) {
    json["rows"].push_back(
        {{"kind", one.kind}, {"rows", one.rows}, {"is_more", one.is_more}});
  }
  json["free_bytes"] = size.free_bytes;
  json["last_packed_day_utc"] =
      size.packing.last_packed ? Json(format_utc(*size.packing.last_packed).substr(0, 10))
                               : Json();
  json["days_to_pack"] = answer.days_to_pack;
  json["readings_kept_from"] = json_of(size.readings_kept_from);
  json["written_bytes_a_day"] =
      answer.wear.bytes_a_day ? Json(*answer.wear.bytes_a_day) : Json();
  json["written_days"] = answer.wear.days;
  json["written_bytes"] = answer.wear.bytes;
  json["compacted_from_bytes"] =
      answer.compacted ? Json(answer.compacted->bytes_before) : Json();
  json["is_whole"] = answer.is_checked ? Json(answer.faults.empty()) : Json();
  json["faults"] = answer.faults;
  return json_text(json);
}

constexpr Parameter kParameters[]{
    {kCheck, "", "read all of it and say whether it is whole"},
    {kCompact, "", "pack all days that are over, and give the disk what room is free"},
};

Result<Compacted> compact_told(const Context& context,
                               const std::filesystem::path& file) {
  const Conversation* const conversation = context.around.conversation;
  CompactProgress tell;
  if (conversation != nullptr && conversation->progress) {
    tell = [&](std::string_view doing, std::uint64_t done,
               std::optional<std::uint64_t> of) {
      const std::string what = fmt::format("{} {}", doing, file.string());
      conversation->progress({.doing = what, .done = done, .total = of, .rows = 0});
    };
  }
  return compact(file, last_midnight(context.now), tell);
}

Reply run(const Context& context, const Arguments& arguments) {
  StoreAnswer answer{.file = store_file_of(context), .size = {}, .wear = {}};
  if (arguments.given(kCompact)) {
    const auto compacted = compact_told(context, answer.file);
    if (!compacted) return could_not(compacted.error().message);
    answer.compacted = *compacted;
  }
  const DayGrid grid(context.zone, context.garden.day_starts);
  answer.size = size_of_store(context.store, answer.file, grid);
  answer.wear = wear_of(answer.size.written, context.now);
  answer.days_to_pack = days_to_pack(answer.size.packing, context.now);
  answer.is_checked = arguments.given(kCheck);
  if (answer.is_checked) answer.faults = faults_of_store(answer.file);
  Reply reply =
      said(context.around.format == Format::kJson ? json_of_answer(context, answer)
                                                  : text_of_answer(context, answer));
  if (!answer.faults.empty()) {
    reply.status = 1;
    reply.trouble = fmt::format("store {}: it is damaged", answer.file.string());
  }
  return reply;
}

}  // namespace

VerbDetails describe_store() {
  return {
      .teaching =
          "The store is the one file in which rimewardd keeps readings, highs and lows, "
          "outlooks and notices. `rimeward store` says how large it is, since when it "
          "has readings, and how many of what it holds. The log beside it (the file's "
          "name with -wal) has the newest commits; the daemon puts them into the file "
          "by and by. Days that are over are packed by the daemon, to a tenth of their "
          "size; `written` says how much it writes to the card in a day, which is what "
          "wears a card out.\n\n"
          "`--check` reads all of it and says whether it is whole: worth doing after a "
          "power cut, and when a card grows old. Where it is damaged, it says what to "
          "do. Keep a copy elsewhere with `rimeward backup`.\n\n"
          "`--compact` is for a store from before days were packed: the daemon packs its "
          "days by and by, but the file keeps its size; this does both at once. The "
          "daemon may run, and what it hears waits until it is done.\n\n"
          "  rimeward store --check\n"
          "  store            /var/lib/rimeward/garden.db\n"
          "  size             14.6 MB, and 0.3 MB in the log beside it\n"
          "  readings         10,518,400, since 2025-04-12\n"
          "  newest           2026-04-12 18:39\n"
          "  days held        366\n"
          "  a reading takes  1.4 bytes, all told\n"
          "  packed           all days up to 2026-04-11\n"
          "  written          31.2 MB a day (the last 30 days), 9.8 GB in all\n"
          "  check            whole",
      .parameters = kParameters,
      .answer = run};
}

}  // namespace rimeward
