// `rimeward notices`: what is pending, and what was.

#include <algorithm>
#include <iterator>
#include <limits>
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
constexpr std::string_view kAll = "--all";

struct NoticesAnswer {
  std::vector<NoticeRow> open;    // oldest first
  std::vector<NoticeRow> closed;  // newest first
};

NoticesAnswer answer_notices(const Context& context, bool all) {
  NoticesAnswer answer{.open = context.store.open_notices(), .closed = {}};
  const std::size_t most =
      all ? static_cast<std::size_t>(context.store.last_notice_id()) : kClosedShown;
  const std::vector<NoticeRow> latest =
      context.store.latest_notices(answer.open.size() + most);
  std::ranges::copy_if(latest, std::back_inserter(answer.closed),
                       [](const NoticeRow& notice) { return !is_open(notice.state); });
  answer.closed.resize(std::min(answer.closed.size(), most));
  return answer;
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

std::string text_of_answer(const Context& context, const NoticesAnswer& answer) {
  std::string text = paragraphs(garden_heading(context.garden, context.zone, context.now),
                                0, context.around.screen);
  text += answer.open.empty() ? "\nNothing is pending.\n\n" : "\nPending:\n\n";
  for (const NoticeRow& notice : answer.open)
    text += open_text(context, notice);
  if (answer.closed.empty()) return text + "No notice is over yet.\n";
  return text + "Over, newest first:\n\n" + closed_text(context, answer);
}

std::string json_of_answer(const Context& context, const NoticesAnswer& answer) {
  nlohmann::ordered_json json = json_heading(context);
  json["open"] = json_of(answer.open, context);
  json["closed"] = json_of(answer.closed, context);
  return json_text(json);
}

constexpr Parameter kParameters[]{{kAll, "", "all that are over, not only the last 10"}};

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
          "answered it) or `lapsed` (its time went by).\n\n"
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
