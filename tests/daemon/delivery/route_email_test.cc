#include <chrono>
#include <stop_token>
#include <thread>

#include <doctest/doctest.h>

#include "tests/daemon/delivery/fake_post.h"
#include "tests/support/sample_dispatch.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using Kind = Delivered::Outcome;

RouteSettings settings() {
  RouteSettings settings;
  settings.kind = "email";
  settings.address = "smtp://mail.example.org:587";
  settings.ca_file = "/etc/rimeward/mail-ca.pem";
  settings.user = "garden";
  settings.password_file = "/etc/rimeward/mail-password";
  settings.from = "rimeward@example.org";
  settings.to = {"anna@example.org", "ben@example.org"};
  settings.time_limit = 30s;
  return settings;
}

Outcome deliver(const FakePost& post, const Dispatch& dispatch = sample_dispatch()) {
  return make_route_email(settings(), post.outside())->deliver(dispatch, {});
}

TEST_CASE("a letter by e-mail has all of the settings and the notice") {
  const FakePost post;
  const Outcome outcome = deliver(post);
  CHECK(outcome.outcome == Kind::kDone);
  CHECK(outcome.trouble == "");
  EmailJob expected;
  expected.address = "smtp://mail.example.org:587";
  expected.ca_file = "/etc/rimeward/mail-ca.pem";
  expected.encrypted = true;
  expected.user = "garden";
  expected.password_file = "/etc/rimeward/mail-password";
  expected.garden = "Hochfeld school garden";
  expected.from = "rimeward@example.org";
  expected.to = {"anna@example.org", "ben@example.org"};
  expected.time_limit = 30s;
  expected.letter = {.id = "7-1776000000",
                     .subject = "Fleece the north frame tonight, by 19:05",
                     .sections = {{.headline = "Fleece the north frame tonight, by 19:05",
                                   .body = "The low is expected at -1.5 °C."}},
                     .chart = std::nullopt};
  CHECK(post.job<EmailJob>() == expected);
}

TEST_CASE("a digest by e-mail has a section for each telling and says how many more") {
  const FakePost post;
  Dispatch dispatch = sample_dispatch();
  Telling other = sample_telling();
  other.headline = "Open the glasshouse, by 10:30";
  other.notice.body = "It will be warm.";
  dispatch.tellings.push_back(other);
  dispatch.tellings.push_back(other);
  CHECK(deliver(post, dispatch).outcome == Kind::kDone);
  const Letter letter = post.job<EmailJob>().letter;
  CHECK(letter.subject == "Fleece the north frame tonight, by 19:05 (+2)");
  REQUIRE(letter.sections.size() == 3);
  CHECK(letter.sections[1] == Letter::Section{.headline = "Open the glasshouse, by 10:30",
                                              .body = "It will be warm."});
}

TEST_CASE("the chart of a Sunday letter goes with it") {
  const FakePost post;
  Dispatch dispatch = sample_dispatch("letter");
  dispatch.chart = WeekChart{.title = "Highs and lows",
                             .days = {"Mon"},
                             .lines = {{.place = "Yard", .lows = {Celsius{-2.5}}}},
                             .in_fahrenheit = true};
  CHECK(deliver(post, dispatch).outcome == Kind::kDone);
  CHECK(post.job<EmailJob>().letter.chart == dispatch.chart);
}

TEST_CASE("what the program says last is the trouble, and it is tried again") {
  const FakePost post(
      "echo first >&2; printf 'smtp://mail.example.org:587: no\\033\\n' >&2; "
      "exit 75");
  const Outcome outcome = deliver(post);
  CHECK(outcome.outcome == Kind::kAgain);
  CHECK(outcome.trouble == "smtp://mail.example.org:587: no\\x1b");
}

TEST_CASE("a letter that some alone could not get is done, and they are named") {
  const FakePost post("echo 'took the letter, but not for anna@example.org' >&2");
  const Outcome outcome = deliver(post);
  CHECK(outcome.outcome == Kind::kDone);
  CHECK(outcome.trouble == "took the letter, but not for anna@example.org");
}

TEST_CASE("long words of the program keep what to do at their end") {
  const std::string words = std::string(400, 'x') + "; mend this";
  const FakePost post("echo '" + words + "' >&2; exit 75");
  CHECK(deliver(post).trouble == words);
}

TEST_CASE("a program that fails in no way that it should is named with the remedy") {
  const std::string mend =
      "; install the daemon and this program again, both of one version";
  {
    const FakePost post("echo no job: email.to >&2; exit 64");
    const Outcome outcome = deliver(post);
    CHECK(outcome.outcome == Kind::kAgain);
    CHECK(outcome.trouble ==
          post.program() + ": exit status 64: no job: email.to" + mend);
  }
  {
    const FakePost post("kill -9 $$");
    const Outcome outcome = deliver(post);
    CHECK(outcome.outcome == Kind::kAgain);
    CHECK(outcome.trouble == post.program() + ": ended by signal 9");
  }
  {
    const FakePost post;
    std::filesystem::remove(post.program());
    const Outcome outcome = deliver(post);
    CHECK(outcome.outcome == Kind::kAgain);
    CHECK(outcome.trouble == post.program() + ": No such file or directory" + mend);
  }
}

TEST_CASE("a letter gives up soon when the daemon stops") {
  const FakePost post("sleep 15");
  const auto route = make_route_email(settings(), post.outside());
  std::stop_source stop;
  std::jthread stopping([&] {
    std::this_thread::sleep_for(50ms);
    stop.request_stop();
  });
  const auto begin = std::chrono::steady_clock::now();
  const Outcome outcome = route->deliver(sample_dispatch(), stop.get_token());
  CHECK(std::chrono::steady_clock::now() - begin < 5s);
  CHECK(outcome.outcome == Kind::kAgain);
  CHECK(outcome.trouble == post.program() + ": stopped with the daemon");
}

}  // namespace
}  // namespace rimeward
