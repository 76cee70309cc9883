// `rimeward backup`: a copy of the store, made while the daemon goes on writing.

#include <filesystem>
#include <string>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/store/store_care.h"
#include "tools/cli/count_text.h"
#include "tools/cli/json_text.h"
#include "tools/cli/store_words.h"
#include "tools/cli/verb.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

constexpr std::string_view kFile = "FILE";
constexpr std::string_view kReplace = "--replace";

struct BackupAnswer {
  std::filesystem::path store;
  std::filesystem::path copy;
  std::uint64_t bytes = 0;
  std::int64_t readings = 0;        // in the copy
  std::optional<Instant> newest{};  // reading in it
};

// What is in the copy is asked of the copy.
BackupAnswer answer_backup(const Context& context, const BackupPlan& plan,
                           std::uint64_t bytes) {
  const Store copy = Store::open(plan.copy, Store::Access::kReadOnly);
  const DayGrid grid(context.zone, context.garden.day_starts);
  const StoreSize size = size_of_store(copy, plan.copy, grid);
  return {.store = plan.store,
          .copy = plan.copy,
          .bytes = bytes,
          .readings = size.readings,
          .newest = size.newest};
}

std::string text_of_answer(const Context& context, const BackupAnswer& answer) {
  std::string newest = "none yet";
  if (answer.newest) {
    newest = "the newest of " + when_text(*answer.newest, context.now, context.zone);
  }
  return paragraphs(
      fmt::format("{}: {}, {} readings, {}; looked through and whole.\n"
                  "To restore it: stop rimewardd, copy it over {}, take away the files "
                  "beside that which end in -wal and -shm, and start rimewardd.",
                  answer.copy.string(), bytes_text(answer.bytes),
                  count_text(answer.readings), newest, answer.store.string()),
      0, context.around.screen);
}

std::string json_of_answer(const Context& context, const BackupAnswer& answer) {
  nlohmann::ordered_json json = json_heading(context);
  json["store"] = answer.store.string();
  json["file"] = answer.copy.string();
  json["bytes"] = answer.bytes;
  json["readings"] = answer.readings;
  json["newest_reading_at"] = json_of(answer.newest);
  json["is_whole"] = true;
  return json_text(json);
}

constexpr Parameter kParameters[]{
    {.name = kFile,
     .value = "",
     .help = "the copy to be made",
     .required = true,
     .offers = Offers::kFiles},
    {kReplace, "", "put it in the place of an older copy of that name"},
};

Reply run(const Context& context, const Arguments& arguments) {
  const BackupPlan plan{.store = store_file_of(context),
                        .copy = std::string(arguments.text(kFile).value()),
                        .may_replace = arguments.given(kReplace)};
  const Conversation* const conversation = context.around.conversation;
  BackupProgress tell;
  if (conversation != nullptr && conversation->progress) {
    tell = [&](std::string_view doing, std::uint64_t done,
               std::optional<std::uint64_t> of) {
      const std::string what = fmt::format("{} {}", doing, plan.copy.string());
      conversation->progress({.doing = what, .done = done, .total = of, .rows = 0});
    };
  }
  const auto bytes = back_up(plan, tell);
  if (!bytes) return could_not(bytes.error().message);
  const BackupAnswer answer = answer_backup(context, plan, *bytes);
  return said(context.around.format == Format::kJson ? json_of_answer(context, answer)
                                                     : text_of_answer(context, answer));
}

}  // namespace

VerbDetails describe_backup() {
  return {
      .teaching =
          "Copies the store to another file while rimewardd goes on writing: on another "
          "disk, a stick or a share, so that a card that dies takes no season with it. "
          "The copy is of one moment. It is looked through before it gets its name, so "
          "that there is never half a backup; an older one of that name stays unless "
          "`--replace` is given, and until the new one is done.\n\n"
          "  rimeward backup /media/stick/garden.db --replace\n"
          "  /media/stick/garden.db: 148.2 MB, 10,518,400 readings, the newest of "
          "18:39;\n"
          "  looked through and whole.\n\n"
          "To restore it: stop rimewardd, copy it over the store, take away the files "
          "beside the store that end in -wal and -shm, and start rimewardd.",
      .parameters = kParameters,
      .answer = run};
}

}  // namespace rimeward
