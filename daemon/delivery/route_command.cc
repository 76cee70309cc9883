// Route `command`: runs a program of the keeper's own. No shell reads its arguments, and
// the notice is handed over in the environment and on standard input only, so that no
// text of a notice can become a command.

#include <cerrno>
#include <system_error>

#include <fmt/format.h>
#include <sys/wait.h>
#include <sysexits.h>

#include "daemon/delivery/child.h"
#include "daemon/delivery/routes.h"
#include "sensors/escape.h"
#include "sensors/iso_time.h"

namespace rimeward {
namespace {

using Kind = Delivered::Outcome;

Outcome again(std::string trouble) {
  return {Kind::kAgain, std::move(trouble)};
}

std::string did_not_start(const std::string& program, int error) {
  const std::string reason = std::generic_category().message(error);
  const char* remedy = "see that it is there";
  if (error == EACCES) remedy = "make it executable for the daemon's user";
  if (error == ENOEXEC) remedy = "begin it with a line such as #!/bin/sh";
  return fmt::format("{}: {}; {}, or change [[route]] run", program, reason, remedy);
}

// What an exit status says beyond its number: 126 and 127 by the shell's custom (POSIX.1,
// Shell Command Language, 2.8.2), 75 by sysexits.h.
std::string_view meaning_of(int status) {
  if (status == EX_TEMPFAIL) return " (try again later)";
  if (status == 126) return " (a program in it is not executable)";
  if (status == 127) return " (a program in it was not found)";
  return "";
}

class CommandRoute : public Route {
 public:
  explicit CommandRoute(const RouteSettings& settings)
      : run_(settings.run), time_limit_(settings.time_limit) {}

  Outcome deliver(const Dispatch& dispatch, std::stop_token stop) override {
    // The settings allow no digest here: there is one telling, and no more.
    const std::string input = dispatch.tellings.front().json + "\n";
    try {
      const ChildEnd end = run_child({.run = run_,
                                      .environment = environment_of(dispatch),
                                      .input = input,
                                      .time_limit = time_limit_},
                                     stop);
      return outcome_of(end, stop.stop_requested());
    } catch (const std::system_error& error) {
      return again(run_.front() + ": " + error.what());
    }
  }

 private:
  using Environment = std::vector<std::pair<std::string, std::string>>;

  static Environment environment_of(const Dispatch& dispatch) {
    const Telling& telling = dispatch.tellings.front();
    const NoticeRow& notice = telling.notice;
    return {{"RIMEWARD_EVENT", telling.event},
            {"RIMEWARD_MESSAGE", dispatch.id},
            {"RIMEWARD_ID", std::to_string(notice.id)},
            {"RIMEWARD_REVISION", std::to_string(notice.revision)},
            {"RIMEWARD_KIND", notice.kind},
            {"RIMEWARD_PLACE", notice.place},
            {"RIMEWARD_PLACE_NAME", telling.place_name},
            {"RIMEWARD_SUBJECT", notice.subject},
            {"RIMEWARD_TITLE", notice.title},
            {"RIMEWARD_BODY", notice.body},
            {"RIMEWARD_DEADLINE",
             notice.deadline ? format_utc(*notice.deadline) : std::string{}}};
  }

  Outcome outcome_of(const ChildEnd& end, bool leaving) const {
    const std::string& program = run_.front();
    if (end.start_error != 0) return again(did_not_start(program, end.start_error));
    if (const auto cut = cut_short(end, time_limit_, leaving)) {
      return again(program + ": " + *cut);
    }
    const int status = WEXITSTATUS(end.wait_status);
    if (status == 0) return {};
    const std::string said =
        end.last_words.empty() ? "" : ": " + escaped(end.last_words, 200);
    return again(
        fmt::format("{}: exit status {}{}{}", program, status, meaning_of(status), said));
  }

  const std::vector<std::string> run_;
  const std::chrono::seconds time_limit_;
};

}  // namespace

std::unique_ptr<Route> make_route_command(const RouteSettings& settings,
                                          const Outside& /*outside*/) {
  return std::make_unique<CommandRoute>(settings);
}

}  // namespace rimeward
