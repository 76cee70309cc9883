#include "daemon/delivery/posting.h"

#include <string_view>
#include <system_error>
#include <utility>

#include <fmt/format.h>
#include <sys/wait.h>
#include <sysexits.h>

#include "daemon/delivery/child.h"
#include "sensors/escape.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

constexpr auto kGrace = 5s;  // after which it does not even keep its time limit
constexpr std::size_t kLongestTrouble = 500;

constexpr std::string_view kMend =
    "install the daemon and this program again, both of one version";

Outcome again(std::string trouble) {
  return {Delivered::Outcome::kAgain, std::move(trouble)};
}

Outcome outcome_of_end(const std::string& program, const ChildEnd& end,
                       std::chrono::seconds allowed, bool leaving) {
  if (end.start_error != 0) {
    return again(fmt::format("{}: {}; {}", program,
                             std::generic_category().message(end.start_error), kMend));
  }
  if (const auto cut = cut_short(end, allowed, leaving)) {
    return again(program + ": " + *cut);
  }
  const std::string said = escaped(end.last_words, kLongestTrouble);
  switch (WEXITSTATUS(end.wait_status)) {
    case EX_OK:
      return {Delivered::Outcome::kDone, said};
    case EX_TEMPFAIL:
      return again(said);
    default:
      return again(fmt::format("{}: exit status {}: {}; {}", program,
                               WEXITSTATUS(end.wait_status), said, kMend));
  }
}

}  // namespace

Outcome outcome_of(const std::filesystem::path& program, const Job& job,
                   std::chrono::seconds time_limit, const std::stop_token& stop) {
  const std::string input = job_json(job);
  const std::chrono::seconds allowed = time_limit + kGrace;
  try {
    const ChildEnd end = run_child({.run = {program.string()},
                                    .environment = {},
                                    .input = input,
                                    .time_limit = allowed},
                                   stop);
    return outcome_of_end(program.string(), end, allowed, stop.stop_requested());
  } catch (const std::system_error& error) {
    return again(program.string() + ": " + error.what());
  }
}

std::string subject_of(const Dispatch& dispatch) {
  const std::string& first = dispatch.tellings.front().headline;
  const auto more = dispatch.tellings.size() - 1;
  return more == 0 ? first : fmt::format("{} (+{})", first, more);
}

}  // namespace rimeward
