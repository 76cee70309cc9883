#include "tools/cli/calibrate_session.h"

#include <charconv>
#include <utility>

#include <fmt/format.h>

#include "daemon/store/correction_json.h"
#include "daemon/store/marks.h"
#include "sensors/number.h"
#include "tools/cli/action.h"
#include "tools/cli/json_text.h"

namespace rimeward {
namespace {

using Json = nlohmann::ordered_json;

std::chrono::seconds seconds_in(std::string_view detail) {
  std::int64_t seconds = 0;
  const auto read =
      std::from_chars(detail.data(), detail.data() + detail.size(), seconds);
  return std::chrono::seconds{read.ec == std::errc{} ? seconds : 0};
}

ActionRow check_action(const std::string& sensor, std::chrono::seconds span, Instant at) {
  ActionRow action;
  action.at = at;
  action.verb = "check";
  action.sensor = sensor;
  action.detail = fmt::format("{}", span.count());
  return action;
}

}  // namespace

std::optional<RunningCheck> running_check(const Store& store, std::string_view sensor,
                                          Instant now) {
  std::optional<RunningCheck> last;
  for (const ActionRow& action : store.actions_after(0)) {
    if (action.verb != "check" || action.sensor != sensor) continue;
    last = RunningCheck{action.at, action.at + seconds_in(action.detail)};
  }
  return last && last->until > now ? last : std::nullopt;
}

Session::Session(const Context& context)
    : around_(context.around),
      context_{.around = around_,
               .garden = context.garden,
               .zone = context.zone,
               .store = context.store,
               .now = context.now,
               .clock_from_readings = context.clock_from_readings} {}

void Session::tell(std::string_view text) {
  const std::string lines = paragraphs(text, 0, around_.screen);
  if (around_.conversation != nullptr) {
    around_.conversation->tell(lines);
  } else {
    told_ += lines;
  }
}

std::optional<bool> Session::ask(std::string_view question) {
  if (around_.conversation == nullptr) return std::nullopt;
  const auto typed = around_.conversation->ask(question);
  if (!typed) return std::nullopt;
  const std::string_view word = trimmed(*typed);
  return word.starts_with('y') || word.starts_with('Y');
}

bool Session::wait(std::chrono::seconds span) {
  const auto now = around_.conversation->wait(span);
  if (!now) return false;
  around_.system_now = *now;
  // Where the garden is played, its time is what its readings say.
  const auto newest = context_.store.mark(kMarkNow);
  context_.now = context_.clock_from_readings && newest
                     ? Instant{std::chrono::seconds{*newest}}
                     : *now;
  return true;
}

void Session::check_for(const std::string& sensor, std::chrono::seconds span) {
  context_.store.add_action(check_action(sensor, span, now()));
}

void Session::begin_check(const std::string& sensor, std::chrono::seconds span,
                          std::string steps) {
  const Reply reply =
      write_down(context_, check_action(sensor, span, now()), std::move(steps));
  if (around_.format == Format::kJson) {
    daemon_running_ = Json::parse(reply.text).at("daemon_running").get<bool>();
  } else {
    tell(reply.text);
  }
}

Reply Session::correct(const CorrectionRow& row, std::string text, const Json& details) {
  ActionRow action;
  action.verb = "correct";
  action.sensor = row.sensor;
  action.detail = correction_json(row);
  return written(std::move(action), std::move(text), details);
}

Reply Session::undo(const CorrectionRow& row, std::string text) {
  ActionRow action;
  action.verb = "uncorrect";
  action.sensor = row.sensor;
  action.detail = fmt::format("{}", row.id);
  return written(std::move(action), std::move(text),
                 {{"sensor", row.sensor}, {"correction", row.id}});
}

Reply Session::written(ActionRow action, std::string text, const Json& details) {
  Reply reply = write_down(context_, std::move(action), std::move(text));
  if (around_.format != Format::kJson) {
    reply.text = std::exchange(told_, {}) + reply.text;
    return reply;
  }
  Json document = Json::parse(reply.text);
  document.update(details);
  reply.text = json_text(document);
  return reply;
}

Reply Session::answer(int status, std::string_view text, const Json& details) {
  if (around_.format == Format::kJson) {
    Json document = json_heading(context_);
    document.update(details);
    if (daemon_running_) document["daemon_running"] = *daemon_running_;
    return {.status = status, .text = json_text(document), .trouble = {}};
  }
  return {.status = status,
          .text = std::exchange(told_, {}) + paragraphs(text, 0, around_.screen),
          .trouble = {}};
}

}  // namespace rimeward
