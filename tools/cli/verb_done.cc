// `rimeward done ID`: a notice was seen to.

#include <charconv>
#include <string_view>

#include <fmt/format.h>

#include "daemon/notice/notice_json.h"
#include "sensors/escape.h"
#include "tools/cli/action.h"
#include "tools/cli/verb.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

constexpr std::string_view kId = "ID";

std::optional<NoticeId> id_from(std::string_view text) {
  NoticeId id = 0;
  const auto read = std::from_chars(text.data(), text.data() + text.size(), id);
  if (read.ec != std::errc{} || read.ptr != text.data() + text.size() || id < 1) {
    return std::nullopt;
  }
  return id;
}

Reply run(const Context& context, const Arguments& arguments) {
  const std::string_view word = arguments.text(kId).value_or("");
  const auto id = id_from(word);
  if (!id) {
    return misused(fmt::format(
        "done: expected a notice's number as `rimeward notices` shows it, got \"{}\"",
        escaped(word)));
  }
  const auto notice = context.store.notice(*id);
  if (!notice) {
    return could_not(
        fmt::format("no notice {}; `rimeward notices --all` shows those there are", *id));
  }
  if (!is_open(notice->state)) {
    const std::string since =
        notice->closed_at
            ? " since " + when_text(*notice->closed_at, context.now, context.zone)
            : "";
    return could_not(fmt::format("notice {} ({}) is over: {}{}", *id,
                                 escaped(notice->title, 80), name_of(notice->state),
                                 since));
  }
  return write_down(
      context,
      {.id = 0, .at = {}, .verb = "done", .place = {}, .layers = 0, .notice = *id},
      fmt::format("notice {} ({}): written down, done at {}", *id, notice->title,
                  context.zone.time_text(context.now)));
}

constexpr Parameter kParameters[]{{kId, "",
                                   "the notice's number, as `rimeward notices` shows it",
                                   true, Offers::kNotices}};

}  // namespace

VerbDetails describe_done() {
  return {
      .teaching =
          "Tells the daemon that a notice was seen to: it is closed, and its matter "
          "stays quiet until it has gone and come again.\n\n"
          "  rimeward done 12\n"
          "  notice 12 (Fleece the north frame tonight): written down, done at 18:20\n\n"
          "Better still for fleece is `rimeward cover north-frame 2`, which closes the "
          "notice too and remembers what is on.",
      .parameters = kParameters,
      .writes = true,
      .answer = run};
}

}  // namespace rimeward
