// `route`: a way to people has failed for an hour or more. Nobody misses a notice that
// they were not told of, so a dead route is told by the others.
//
// An attempt that fails now and then, and a mail server that restarts, are over within
// the hour. Nothing is said of a route while nothing waits for it: whether it would work
// is not known. An open notice stays until something gets through.

#include <chrono>
#include <string>
#include <string_view>
#include <utility>

#include <fmt/format.h>

#include "daemon/notice/rule.h"
#include "sensors/utf8.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

constexpr std::chrono::hours kPatience{1};
// What a server answers may be a page of it.
constexpr std::size_t kLongestTrouble = 200;

// Cut behind a whole character. The text is escaped already, and not twice.
std::string shortened(std::string_view text) {
  std::size_t end = 0;
  for (std::size_t count = 0; end < text.size(); ++count) {
    if (count == kLongestTrouble) return std::string(text.substr(0, end)) + "...";
    const auto character = first_character(text.substr(end));
    end += character ? character->length : 1;
  }
  return std::string(text);
}

// With a full stop where it ends without one, for another sentence follows.
std::string as_sentence(std::string text) {
  const bool is_closed = std::string_view(".!?").find(text.back()) != std::string::npos;
  return is_closed ? text : text + ".";
}

std::string body_for(const Wording& wording, const RouteView& route) {
  std::string body =
      wording.say(Phrase::kRouteFailing, fmt::arg("route", route.name),
                  fmt::arg("when", wording.day_and_time(route.failing_since)));
  if (!route.trouble.empty()) {
    body += " " + wording.say(Phrase::kRouteTrouble,
                              fmt::arg("trouble", as_sentence(shortened(route.trouble))));
  }
  body += " " +
          (route.delivered_at
               ? wording.say(Phrase::kRouteDelivered,
                             fmt::arg("when", wording.day_and_time(*route.delivered_at)))
               : wording.say(Phrase::kRouteNotDelivered));
  return body + " " + wording.say(Phrase::kRouteRemedy);
}

}  // namespace

std::vector<Finding> find_route(const Situation& situation) {
  std::vector<Finding> findings;
  for (const RouteView& route : situation.routes) {
    Finding finding;
    finding.subject = route.name;
    finding.holds = route.is_tried && situation.now - route.failing_since >= kPatience;
    finding.title =
        situation.wording.say(Phrase::kRouteTitle, fmt::arg("route", route.name));
    finding.body = body_for(situation.wording, route);
    findings.push_back(std::move(finding));
  }
  return findings;
}

}  // namespace rimeward
