#include <doctest/doctest.h>

#include "daemon/notice/keeper.h"
#include "daemon/notice/rule.h"
#include "tests/support/situation.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

constexpr const char* kFailed = "2026-04-12T12:05:00Z";

struct Routes {
  Evening evening;
  std::vector<RouteView> failing{{.name = "email-1",
                                  .failing_since = at(kFailed),
                                  .trouble = "mail.example.org: nobody listens there",
                                  .delivered_at = at("2026-04-11T17:20:00Z"),
                                  .is_tried = true}};

  Situation look(Instant now) const {
    Situation situation = evening.look("2026-04-12T12:00:00Z");
    situation.now = now;
    situation.routes = failing;
    return situation;
  }

  Finding find() const { return find_route(look(at(kFailed) + 1h)).front(); }

  // What the notice says of the trouble.
  std::string told(const std::string& trouble) {
    failing.front().trouble = trouble;
    const std::string body = find().body;
    const std::string before = "What went wrong last: ";
    const std::size_t from = body.find(before) + before.size();
    return body.substr(from, body.find(" The last notice") - from);
  }
};

}  // namespace

TEST_CASE("a route is told once it has failed for an hour, with what to do") {
  const Routes routes;
  CHECK_FALSE(find_route(routes.look(at(kFailed) + 1h - 1s)).front().holds);
  const Finding finding = routes.find();
  CHECK(finding.holds);
  CHECK(finding.subject == "email-1");
  CHECK(finding.place.empty());
  CHECK(finding.title == "Notices do not get through by email-1");
  CHECK(finding.body ==
        "Sending by email-1 has failed since 14:05 on Sun 2026-04-12. What went wrong "
        "last: mail.example.org: nobody listens there. The last notice that got through "
        "by it did so at 19:20 on Sat 2026-04-11. When it is mended, rimeward check "
        "--routes sends a trial. Meanwhile other routes carry on, and rimeward notices "
        "lists what is open.");
}

TEST_CASE("a route that nothing waits for is not told, and a notice of it stays") {
  Routes routes;
  routes.failing.front().is_tried = false;
  const Finding finding = routes.find();
  CHECK_FALSE(finding.holds);
  CHECK(finding.subject == "email-1");
}

TEST_CASE("a route by which nothing ever got through is said to be so") {
  Routes routes;
  routes.failing.front().delivered_at.reset();
  routes.failing.front().trouble.clear();
  CHECK(routes.find().body.starts_with(
      "Sending by email-1 has failed since 14:05 on Sun 2026-04-12. No notice is known "
      "to have got through by it. When"));
}

TEST_CASE("each route that fails is told by itself, and none that works") {
  Routes routes;
  routes.failing.push_back({.name = "http-2",
                            .failing_since = at(kFailed) - 2h,
                            .trouble = "",
                            .is_tried = true});
  const auto findings = find_route(routes.look(at(kFailed)));
  REQUIRE(findings.size() == 2);
  CHECK_FALSE(findings[0].holds);
  CHECK(findings[1].holds);
  CHECK(findings[1].subject == "http-2");
  routes.failing.clear();
  CHECK(find_route(routes.look(at(kFailed))).empty());
}

TEST_CASE("trouble ends as a sentence does, and is not escaped a second time") {
  Routes routes;
  CHECK(routes.told("refused; mend user") == "refused; mend user.");
  CHECK(routes.told("Refused. Mend user.") == "Refused. Mend user.");
  CHECK(routes.told(R"(it said \"550\n\")") == R"(it said \"550\n\".)");
}

TEST_CASE("long trouble is cut behind 200 characters, and none of them in two") {
  Routes routes;
  std::string trouble;
  for (int i = 0; i < 200; ++i)
    trouble += "ü";
  CHECK(routes.told(trouble) == trouble + ".");
  CHECK(routes.told(trouble + "ü") == trouble + "...");
}

TEST_CASE("in German a route that fails is told in German") {
  const Routes routes;
  Situation situation = routes.look(at(kFailed) + 1h);
  situation.wording = german(routes.evening.zone);
  const Finding finding = find_route(situation).front();
  CHECK(finding.title == "Hinweise kommen über email-1 nicht an");
  CHECK(finding.body ==
        "Das Senden über email-1 misslingt seit 14:05 Uhr am So, 12.4.2026. Was zuletzt "
        "schiefging: mail.example.org: nobody listens there. Der letzte Hinweis kam auf "
        "diesem Weg um 19:20 Uhr am Sa, 11.4.2026 an. Wenn es behoben ist, macht "
        "rimeward check --routes einen Versuch. Bis dahin senden andere Wege weiter, und "
        "rimeward notices zeigt, was offen ist.");
}

TEST_CASE("a dead route is told once by the others, and over when it gets through") {
  Routes routes;
  Garden settings = hochfeld();
  RouteSettings command;
  command.kind = "command";
  RouteSettings email;
  email.kind = "email";
  settings.routes = {email, command};
  Store store = Store::in_memory();
  Keeper keeper{settings, routes.evening.zone, store,
                [](LogLevel, const std::string&) {}};
  const auto look_at = [&](Instant now) {
    Changes changes;
    keeper.look(routes.look(now), changes);
    changes.now = now;
    store.commit(changes);
    return store.open_notices();
  };
  CHECK(look_at(at(kFailed) + 59min).empty());
  const auto open = look_at(at(kFailed) + 60min);
  REQUIRE(open.size() == 1);
  CHECK(open.front().kind == "route");
  const auto outbox = store.waiting_outbox();
  REQUIRE(outbox.size() == 1);
  CHECK(outbox.front().route == "command-2");
  CHECK(look_at(at(kFailed) + 24h).size() == 1);
  CHECK(store.open_notices().front().revision == 1);
  routes.failing.clear();
  CHECK(look_at(at(kFailed) + 25h).empty());
}
