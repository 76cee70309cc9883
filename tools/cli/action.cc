#include "tools/cli/action.h"

#include <chrono>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/store/batch_json.h"
#include "daemon/store/marks.h"
#include "daemon/store/mute_word.h"
#include "tools/cli/json_text.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

// The daemon commits at least every minute; five of them are more than a busy board
// needs.
constexpr std::chrono::minutes kDaemonSilent{5};

enum class Daemon { kRuns, kSilent, kNothingTakenYet };

Daemon state_of_daemon(const Context& context) {
  const auto mark = context.store.mark(kMarkNow);
  if (!mark) return Daemon::kNothingTakenYet;
  // Such a garden's clock stands still between readings, and says nothing of the daemon.
  if (context.clock_from_readings) return Daemon::kRuns;
  const auto silent = context.around.system_now - Instant{std::chrono::seconds{*mark}};
  return silent <= kDaemonSilent ? Daemon::kRuns : Daemon::kSilent;
}

std::string_view when_it_is_taken(Daemon daemon) {
  switch (daemon) {
    case Daemon::kRuns:
      return "";
    case Daemon::kSilent:
      return "\nrimewardd seems not to run: it takes this when it next does";
    case Daemon::kNothingTakenYet:
      return "\nrimewardd has taken in no reading yet: it takes this with the first";
  }
  return "";
}

std::string json_of_action(const Context& context, const ActionRow& action,
                           bool running) {
  nlohmann::ordered_json json = json_heading(context);
  json["action"] = action.id;
  json["verb"] = action.verb;
  if (action.notice != 0) json["notice"] = action.notice;
  if (!action.place.empty()) json["place"] = action.place;
  if (action.verb == "cover" || action.verb == "uncover") json["layers"] = action.layers;
  if (const auto word = batch_from_json(action.detail)) {
    json["batch"] = word->batch.id;
    if (!word->place.empty()) json["place"] = word->place;
  }
  if (const auto mute = mute_of(action)) {
    json["kind"] = mute->kind;
    json["until"] = json_of(std::optional(mute->until));
  }
  json["at"] = json_of(std::optional(action.at));
  json["daemon_running"] = running;
  return json_text(json);
}

}  // namespace

Reply write_down(const Context& context, ActionRow action, std::string text) {
  if (action.at == Instant{}) action.at = context.now;
  const Daemon daemon = state_of_daemon(context);
  action.id = context.store.add_action(action);
  if (context.around.format == Format::kJson) {
    return said(json_of_action(context, action, daemon == Daemon::kRuns));
  }
  text += when_it_is_taken(daemon);
  return said(paragraphs(text, 0, context.around.screen));
}

Reply write_down_of_place(const Context& context, const Arguments& arguments,
                          std::string_view verb, std::string_view is_now) {
  const auto place =
      find_place(context.garden, arguments.text(kPlaceDoneTo).value_or(""));
  if (!place) return misused(place.error().message);
  return write_down(context, {.verb = std::string(verb), .place = (*place)->id},
                    fmt::format("{}: written down, {} from {}", (*place)->name, is_now,
                                context.zone.time_text(context.now)));
}

}  // namespace rimeward
