// `rimeward store`: how large the store is, what takes the room, and whether it is whole.

#include <cmath>
#include <filesystem>
#include <string>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/store/store_care.h"
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
constexpr std::string_view kToMend =
    "Restore a backup: stop rimewardd, put the backup in the store's place, take away "
    "the "
    "files beside it that end in -wal and -shm, and start rimewardd. Without a backup, "
    "`rimeward export` may still read a part; keep a copy of the file first.";

struct StoreAnswer {
  std::filesystem::path file;
  StoreSize size;
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
                   {fmt::format("{:.1f} bytes, all told", bytes_a_reading(size))}});
  }
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
  json["is_whole"] = answer.is_checked ? Json(answer.faults.empty()) : Json();
  json["faults"] = answer.faults;
  return json_text(json);
}

constexpr Parameter kParameters[]{
    {kCheck, "", "read all of it and say whether it is whole"},
};

Reply run(const Context& context, const Arguments& arguments) {
  StoreAnswer answer{.file = store_file_of(context), .size = {}};
  const DayGrid grid(context.zone, context.garden.day_starts);
  answer.size = size_of_store(context.store, answer.file, grid);
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
          "by and by.\n\n"
          "`--check` reads all of it and says whether it is whole: worth doing after a "
          "power cut, and when a card grows old. Where it is damaged, it says what to "
          "do. Keep a copy elsewhere with `rimeward backup`.\n\n"
          "  rimeward store --check\n"
          "  store            /var/lib/rimeward/garden.db\n"
          "  size             148.2 MB, and 0.3 MB in the log beside it\n"
          "  readings         10,518,400, since 2025-04-12\n"
          "  newest           2026-04-12 18:39\n"
          "  days held        366\n"
          "  a reading takes  14.1 bytes, all told\n"
          "  check            whole",
      .parameters = kParameters,
      .answer = run};
}

}  // namespace rimeward
