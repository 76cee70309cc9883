#include "daemon/notice/action_json.h"

#include <string>
#include <vector>

#include <doctest/doctest.h>
#include <fmt/format.h>

#include "daemon/notice/notice_kinds.h"
#include "daemon/store/batch_json.h"
#include "daemon/store/mute_word.h"
#include "tests/support/hochfeld.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using testing::at;

const Instant kNow = at("2026-04-12T16:40:00Z");

Garden garden() {
  Garden garden = testing::hochfeld();
  garden.crops =
      CropTable({Crop{.id = "chilli", .name = "chilli", .plural = "chillies"}});
  return garden;
}

Result<ActionRow> by_message(std::string_view text) {
  return action_from_json(text, garden(), kNow, Told::kByMessage);
}

// As a rehearsal reads its file: all of it before the first moment.
Result<ActionRow> in_rehearsal(std::string_view text) {
  return action_from_json(text, garden(), Instant::max(), Told::kInRehearsal);
}

ActionRow taken(std::string_view text) {
  const auto action = by_message(text);
  if (!action) FAIL(action.error().message);
  return *action;
}

std::string refused(std::string_view text) {
  const auto action = by_message(text);
  return action ? "taken" : action.error().message;
}

TEST_CASE("what was done to a place is taken, as of now where no time is said") {
  const ActionRow cover =
      taken(R"({"verb": "cover", "place": "north-frame", "layers": 2})");
  CHECK(cover ==
        ActionRow{.at = kNow, .verb = "cover", .place = "north-frame", .layers = 2});
  CHECK(taken(R"({"verb":"cover","place":"yard"})").layers == 1);
  CHECK(taken(R"({"verb":"cover","place":"yard","layers":0})").layers == 0);
  for (const std::string verb : {"uncover", "open", "shut", "water"}) {
    CAPTURE(verb);
    CHECK(taken(R"({"place":"yard","verb":")" + verb + "\"}") ==
          ActionRow{.at = kNow, .verb = verb, .place = "yard"});
  }
  CHECK(taken(R"({"verb":"done","notice":12})") ==
        ActionRow{.at = kNow, .verb = "done", .notice = 12});
}

TEST_CASE("a mute says of what kind, where and until when") {
  const ActionRow mute =
      taken(R"({"verb":"mute","kind":"damp","until":"2026-04-20T10:00:00+02:00"})");
  CHECK(mute.detail == "damp 2026-04-20T08:00:00Z");
  CHECK(mute_of(mute) ==
        MuteRow{.kind = "damp", .place = "", .until = at("2026-04-20T08:00:00Z")});
  const ActionRow in_place = taken(
      R"({"verb":"mute","kind":"damp","place":"yard","until":"2026-04-20T08:00:00Z"})");
  CHECK(mute_of(in_place)->place == "yard");
  CHECK(mute_of(taken(R"({"verb":"mute","kind":"damp","until":"now"})"))->until == kNow);
  for (const std::string_view kind : kNoticeKinds) {
    CAPTURE(kind);
    CHECK(taken(fmt::format(
                    R"({{"verb":"mute","kind":"{}","until":"2027-04-12T08:00:00Z"}})",
                    kind))
              .verb == "mute");
  }
}

TEST_CASE("a time is taken from a clock that is a little ahead, and up to a month late") {
  const auto water_at = [](std::string_view time) {
    return fmt::format(R"({{"verb":"water","place":"yard","at":"{}"}})", time);
  };
  CHECK(taken(water_at("2026-04-12T07:30:00+02:00")).at == at("2026-04-12T05:30:00Z"));
  CHECK(taken(water_at("2026-04-12T16:42:00Z")).at == kNow);
  CHECK(taken(water_at("2026-03-12T16:40:00Z")).at == at("2026-03-12T16:40:00Z"));
  CHECK(refused(water_at("2026-04-12T16:42:01Z")) ==
        "at: expected a time that has been; set the clock of what sent it, got "
        "\"2026-04-12T16:42:01Z\"");
  CHECK(refused(water_at("2026-03-12T16:39:59Z")) ==
        "at: expected a time of the last 31 days, got \"2026-03-12T16:39:59Z\"");
  CHECK(refused(water_at("07:30")) ==
        "at: expected a time such as \"2026-04-12T18:03:00Z\", got \"07:30\"");
}

TEST_CASE("each mistake in a word of the gardener's is told with its remedy") {
  struct Row {
    std::string_view text;
    std::string_view why;
  };
  const Row rows[] = {
      {"",
       "no JSON object, such as {\"verb\": \"cover\", \"place\": \"north-frame\", "
       "\"layers\": 2}"},
      {"{}", "no verb; say one of cover, uncover, open, shut, water, done, mute"},
      {R"({"verb":7})",
       "no verb; say one of cover, uncover, open, shut, water, done, mute"},
      {R"({"verb":"cove","place":"yard"})",
       "unknown verb \"cove\"; did you mean \"cover\"?; known: cover, uncover, open, "
       "shut, "
       "water, done, mute"},
      {R"({"verb":"cover","place":"yard","layer":2})",
       "unknown member \"layer\"; did you mean \"layers\"?"},
      {R"({"verb":"uncover","place":"yard","layers":2})",
       "unknown member \"layers\"; known: verb, at, place"},
      {R"({"verb":"uncover","place":"yard","x\u001b[2J":2})",
       "unknown member \"x\\x1b[2J\"; known: verb, at, place"},
      {R"({"verb":"cover"})", "cover without place; say its id"},
      {R"({"verb":"cover","place":"yrad"})",
       "place: no place has the id \"yrad\"; did you mean \"yard\"?"},
      {R"({"verb":"cover","place":"North frame"})",
       "place: no place has the id \"North frame\"; did you mean \"north-frame\"?"},
      {R"({"verb":"cover","place":["yard"]})",
       "place: expected a place's id, got [\\\"yard\\\"]"},
      {R"({"verb":"cover","place":"yard","layers":10})",
       "layers: expected a whole number from 0 to 9, got 10"},
      {R"({"verb":"cover","place":"yard","layers":-1})",
       "layers: expected a whole number from 0 to 9, got -1"},
      {R"({"verb":"cover","place":"yard","layers":2.0})",
       "layers: expected a whole number from 0 to 9, got 2.0"},
      {R"({"verb":"cover","place":"yard","layers":"2"})",
       "layers: expected a whole number from 0 to 9, got \"2\""},
      {R"({"verb":"done"})", "done without notice; say its number"},
      {R"({"verb":"done","notice":0})", "notice: expected the number of a notice, got 0"},
      {R"({"verb":"done","notice":9223372036854775808})",
       "notice: expected the number of a notice, got 9223372036854775808"},
      {R"({"verb":"mute","until":"now"})", "mute without kind; say which kind of notice"},
      {R"({"verb":"mute","kind":"dampp","until":"now"})",
       "kind: unknown kind of notice \"dampp\"; known: danger, cover, uncover, vent, "
       "shut, "
       "damp, blight, dry, due, move, silent, doubtful, battery, route, store, morning, sunday; "
       "did you mean \"damp\"?"},
      {R"({"verb":"mute","kind":"damp"})", "mute without until; say until when"},
      {R"({"verb":"mute","kind":"damp","until":"18:00"})",
       "until: expected a time such as \"2026-04-20T08:00:00Z\", or \"now\", got "
       "\"18:00\""},
      {R"({"verb":"mute","kind":"damp","until":"2026-04-12T16:40:00Z"})",
       "until: expected a time to come, or \"now\" to mute it no longer, got "
       "\"2026-04-12T16:40:00Z\""},
      {R"({"verb":"mute","kind":"damp","until":"2027-04-13T16:40:01Z"})",
       "until: expected a time within a year, got \"2027-04-13T16:40:01Z\""},
      {R"({"verb":"mute","kind":"sunday","place":"yard","until":"now"})",
       "place: \"sunday\" is about the garden as a whole; leave it out"},
      {R"({"verb":"sow","batch":{}})",
       "sow is taken in a rehearsal only; say it by `rimeward batch` at the terminal"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.text);
    CHECK(refused(row.text) == row.why);
  }
  CHECK(refused(R"({"verb":"done","notice":)" + std::string(4096, '1') + "}") ==
        "4121 bytes are no word of a gardener's");
  CHECK(refused(std::string(4000, '[')).starts_with("no JSON object"));
  CHECK(refused("{\"verb\":\"\xff\"}").starts_with("no JSON object"));
}

TEST_CASE("a rehearsal takes what is sown, moved and finished, and when is always said") {
  const BatchWord sown{.batch = {.id = "chillies",
                                 .crop = "chilli",
                                 .sown = std::chrono::sys_days{std::chrono::days{20'000}},
                                 .count = 24,
                                 .next_place = "north-frame"},
                       .place = "yard",
                       .since = {}};
  const auto word = [](std::string_view verb, const BatchWord& batch) {
    return fmt::format(R"({{"verb":"{}","at":"2026-03-20T10:00:00Z","batch":{}}})", verb,
                       batch_json(batch));
  };
  const auto sow = in_rehearsal(word("sow", sown));
  REQUIRE(sow);
  BatchWord expected = sown;
  expected.since = at("2026-03-20T10:00:00Z");
  CHECK(batch_from_json(sow->detail).value() == expected);
  CHECK(sow->at == at("2026-03-20T10:00:00Z"));

  BatchWord elsewhere = sown;
  elsewhere.place = "attic";
  CHECK(in_rehearsal(word("move", elsewhere)).error().message ==
        "place: no place has the id \"attic\"");
  elsewhere = sown;
  elsewhere.batch.next_place = "attic";
  CHECK_FALSE(in_rehearsal(word("sow", elsewhere)));
  BatchWord nowhere = sown;
  nowhere.place = "";
  CHECK(in_rehearsal(word("move", nowhere)).error().message ==
        "move without place; say its id");
  CHECK(in_rehearsal(word("finish", sown)).error().message ==
        "finish without finished; say on which day");
  BatchWord finished = sown;
  finished.batch.finished = sown.batch.sown + std::chrono::days{90};
  CHECK(in_rehearsal(word("finish", finished)));
  BatchWord other = sown;
  other.batch.crop = "chili";
  CHECK(in_rehearsal(word("sow", other)).error().message ==
        "no crop has the id \"chili\"; did you mean \"chilli\"?");

  CHECK(in_rehearsal(R"({"verb":"cover","place":"yard"})").error().message ==
        "cover without at; a rehearsal must know when it was said");
  // Of years ago, as recorded weather may be.
  CHECK(in_rehearsal(R"({"verb":"cover","place":"yard","at":"2019-04-12T16:40:00Z"})"));
  const auto mute =
      in_rehearsal(R"({"verb":"mute","kind":"damp","until":"2019-04-20T08:00:00Z",)"
                   R"("at":"2019-04-12T16:40:00Z"})");
  REQUIRE(mute);
  CHECK(mute->detail == "damp 2019-04-20T08:00:00Z");
  CHECK_FALSE(in_rehearsal(
      R"({"verb":"sow","at":"2026-03-20T10:00:00Z","batch":{"batch":"a","crop":"chilli",)"
      R"("sown":20000,"place":"yard","count":4294967297}})"));
}

}  // namespace
}  // namespace rimeward
