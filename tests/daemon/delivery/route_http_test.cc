#include <chrono>

#include <doctest/doctest.h>

#include "tests/daemon/delivery/fake_post.h"
#include "tests/support/sample_dispatch.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using Kind = Delivered::Outcome;

RouteSettings settings(bool as_text = false) {
  RouteSettings settings;
  settings.kind = "http";
  settings.address = "https://example.org/notices";
  settings.ca_file = "/etc/rimeward/ca.pem";
  settings.headers = {"X-Garden: hochfeld"};
  settings.bearer_file = "/etc/rimeward/token";
  settings.as_text = as_text;
  settings.time_limit = 30s;
  return settings;
}

HttpJob job_for(const Dispatch& dispatch, bool as_text = false) {
  const FakePost post;
  const auto route = make_route_http(settings(as_text), post.outside());
  CHECK(route->deliver(dispatch, {}).outcome == Kind::kDone);
  return post.job<HttpJob>();
}

Dispatch digest() {
  Dispatch dispatch = sample_dispatch();
  dispatch.id = "7-8-1776000000";
  Telling other = sample_telling();
  other.headline = "Open the glasshouse, by 10:30";
  other.notice.body = "It will be warm.";
  other.json = R"({"id":4})";
  dispatch.tellings.push_back(other);
  return dispatch;
}

TEST_CASE("a post has all of the settings, and the notice as its JSON stands") {
  HttpJob expected;
  expected.address = "https://example.org/notices";
  expected.ca_file = "/etc/rimeward/ca.pem";
  expected.headers = {"X-Garden: hochfeld"};
  expected.bearer_file = "/etc/rimeward/token";
  expected.content_type = "application/json";
  expected.id = "7-1776000000";
  expected.content = R"({"id":3,"revision":2,"kind":"cover"})";
  expected.time_limit = 30s;
  CHECK(job_for(sample_dispatch()) == expected);
}

TEST_CASE("a digest by post is one JSON object with its id and all notices") {
  const HttpJob job = job_for(digest());
  CHECK(job.id == "7-8-1776000000");
  CHECK(job.content ==
        R"({"id":"7-8-1776000000","notices":[{"id":3,"revision":2,"kind":"cover"},)"
        R"({"id":4}]})");
}

TEST_CASE("a post as text has the headline and the reason, of a digest each") {
  const HttpJob one = job_for(sample_dispatch(), true);
  CHECK(one.content_type == "text/plain; charset=utf-8");
  CHECK(one.content ==
        "Fleece the north frame tonight, by 19:05\n\nThe low is expected at -1.5 °C.\n");
  CHECK(job_for(digest(), true).content ==
        one.content + "\nOpen the glasshouse, by 10:30\n\nIt will be warm.\n");
}

TEST_CASE("a post that fails is tried again, with what the program says last") {
  const FakePost post("echo 'https://example.org:443: status 503' >&2; exit 75");
  const Outcome outcome =
      make_route_http(settings(), post.outside())->deliver(sample_dispatch(), {});
  CHECK(outcome.outcome == Kind::kAgain);
  CHECK(outcome.trouble == "https://example.org:443: status 503");
}

}  // namespace
}  // namespace rimeward
