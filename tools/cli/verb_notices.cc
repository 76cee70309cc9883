// `rimeward notices`: what is pending, and what was.

#include <algorithm>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/notice/notice_json.h"
#include "tools/cli/json_text.h"
#include "tools/cli/table.h"
#include "tools/cli/verb.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

constexpr std::size_t kClosedShown = 10;
constexpr std::size_t kLettersShown = 3;
constexpr std::string_view kAll = "--all";

struct NoticesAnswer {
  std::vector<NoticeRow> open;     // oldest first
  std::vector<NoticeRow> closed;   // newest first
  std::vector<NoticeRow> letters;  // newest first; they ask for nothing
  std::vector<MuteRow> muted;      // the one that ends first, first
};

std::vector<NoticeRow> first_of(std::span<const NoticeRow> notices, std::size_t most,
                                bool (*fits)(const NoticeRow& notice)) {
  std::vector<NoticeRow> found;
  for (const NoticeRow& notice : notices) {
    if (found.size() < most && fits(notice)) found.push_back(notice);
  }
  return found;
}

bool is_told(const NoticeRow& notice) {
  return notice.state == NoticeState::kTold;
}

bool is_over(const NoticeRow& notice) {
  return !is_open(notice.state) && !is_told(notice);
}

std::vector<MuteRow> mutes_now(const Context& context) {
  std::vector<MuteRow> mutes = context.store.mutes();
  std::erase_if(mutes,
                [&context](const MuteRow& mute) { return mute.until <= context.now; });
  std::ranges::stable_sort(mutes, {}, &MuteRow::until);
  return mutes;
}

NoticesAnswer answer_notices(const Context& context, bool all) {
  NoticesAnswer answer{.open = context.store.open_notices(),
                       .closed = {},
                       .letters = {},
                       .muted = mutes_now(context)};
  const auto last = static_cast<std::size_t>(context.store.last_notice_id());
  const std::size_t most = all ? last : kClosedShown;
  // A letter a day may stand between them.
  for (std::size_t count = answer.open.size() + 2 * most;; count *= 2) {
    const std::vector<NoticeRow> latest = context.store.latest_notices(count);
    answer.closed = first_of(latest, most, &is_over);
    answer.letters = first_of(latest, all ? last : kLettersShown, &is_told);
    if (answer.closed.size() == most || latest.size() < count) return answer;
  }
}

std::string time_or_dash(const Context& context, std::optional<Instant> at) {
  return at ? when_text(*at, context.now, context.zone) : "-";
}

std::string open_text(const Context& context, const NoticeRow& notice) {
  const Screen& screen = context.around.screen;
  const std::string id = fmt::format("{}", notice.id);
  const std::size_t indent = id.size() + 2;
  std::string title = paragraphs(notice.title, indent, screen);
  // A title of nothing has no line to put the number on.
  title = title.size() > indent ? id + title.substr(id.size()) : id + "\n";
  std::string text = styled(title, Style::kUrgent, screen);
  std::string facts = fmt::format("{}; {}", place_name(context.garden, notice.place),
                                  name_of(notice.state));
  if (notice.deadline)
    facts += "; " + due_text(*notice.deadline, context.now, context.zone);
  facts += "; since " + time_or_dash(context, notice.raised_at);
  text += paragraphs(facts, indent, screen);
  return text + paragraphs(notice.body, indent, screen) + "\n";
}

std::string closed_text(const Context& context, const NoticesAnswer& answer) {
  Table table({{.heading = "id", .align = Column::Align::kRight},
               {.heading = "state"},
               {.heading = "place"},
               {.heading = "notice", .wraps = true},
               {.heading = "over since"}});
  for (const NoticeRow& notice : answer.closed) {
    table.add_row({{fmt::format("{}", notice.id)},
                   {std::string(name_of(notice.state))},
                   {std::string(place_name(context.garden, notice.place))},
                   {notice.title},
                   {time_or_dash(context, notice.closed_at)}});
  }
  return table.text(context.around.screen);
}

std::string letters_text(const Context& context, const NoticesAnswer& answer) {
  Table table({{.heading = "id", .align = Column::Align::kRight},
               {.heading = "kind"},
               {.heading = "letter", .wraps = true},
               {.heading = "written"}});
  for (const NoticeRow& letter : answer.letters) {
    table.add_row({{fmt::format("{}", letter.id)},
                   {letter.kind},
                   {letter.title},
                   {time_or_dash(context, letter.raised_at)}});
  }
  return table.text(context.around.screen);
}

std::string muted_text(const Context& context, const NoticesAnswer& answer) {
  Table table(
      {{.heading = "kind"}, {.heading = "place", .wraps = true}, {.heading = "until"}});
  for (const MuteRow& mute : answer.muted) {
    table.add_row(
        {{mute.kind},
         {mute.place.empty() ? "all"
                             : std::string(place_name(context.garden, mute.place))},
         {time_or_dash(context, mute.until)}});
  }
  return table.text(context.around.screen);
}

std::string text_of_answer(const Context& context, const NoticesAnswer& answer) {
  std::string text = paragraphs(garden_heading(context.garden, context.zone, context.now),
                                0, context.around.screen);
  text += answer.open.empty() ? "\nNothing is pending.\n\n" : "\nPending:\n\n";
  for (const NoticeRow& notice : answer.open)
    text += open_text(context, notice);
  if (!answer.muted.empty()) {
    text += "Muted, told to nobody until then:\n\n" + muted_text(context, answer) + "\n";
  }
  text += answer.closed.empty()
              ? "No notice is over yet.\n"
              : "Over, newest first:\n\n" + closed_text(context, answer);
  if (answer.letters.empty()) return text;
  return text + "\nLetters, newest first:\n\n" + letters_text(context, answer);
}

nlohmann::ordered_json json_of_mutes(const Context& context,
                                     const NoticesAnswer& answer) {
  auto list = nlohmann::ordered_json::array();
  for (const MuteRow& mute : answer.muted) {
    list.push_back({{"kind", mute.kind},
                    {"place", mute.place},
                    {"until", json_of(std::optional(mute.until))},
                    {"until_local", json_local(mute.until, context.zone)}});
  }
  return list;
}

std::string json_of_answer(const Context& context, const NoticesAnswer& answer) {
  nlohmann::ordered_json json = json_heading(context);
  json["open"] = json_of(answer.open, context);
  json["closed"] = json_of(answer.closed, context);
  json["letters"] = json_of(answer.letters, context);
  json["muted"] = json_of_mutes(context, answer);
  return json_text(json);
}

constexpr Parameter kParameters[]{
    {kAll, "", "all that are over, not only the last 10, and all letters"}};

Reply run(const Context& context, const Arguments& arguments) {
  const NoticesAnswer answer = answer_notices(context, arguments.given(kAll));
  return said(context.around.format == Format::kJson ? json_of_answer(context, answer)
                                                     : text_of_answer(context, answer));
}

}  // namespace

VerbDetails describe_notices() {
  return {
      .teaching =
          "What waits for the gardener, with its reason, and what is over.\n\n"
          "A notice is `raised`, then `delivered` once a route has taken it; it is over "
          "when it was `done` (you said so), `overtaken` (a later notice or the weather "
          "answered it) or `lapsed` (its time went by). Letters, which ask for nothing, "
          "are `told`.\n\n"
          "  rimeward notices\n"
          "  12  Fleece the north frame tonight\n"
          "      North frame; delivered; by 19:20; since 16:36\n"
          "      2 layers, on while it still holds the day's warmth. Low -0.6 °C "
          "expected...\n\n"
          "Once the fleece is on: `rimeward cover north-frame 2`, or `rimeward done "
          "12`.",
      .parameters = kParameters,
      .answer = run};
}

}  // namespace rimeward
