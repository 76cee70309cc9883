// `rimeward calibrate` with somebody in front of it: a clock that only waiting moves, and
// a stand-in for the daemon that writes what the sensor says meanwhile.

#include <chrono>
#include <cmath>
#include <functional>
#include <string>
#include <vector>

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include "daemon/store/correction_json.h"
#include "tests/support/sample_store.h"
#include "tests/tools/cli_run.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using nlohmann::json;

constexpr SeriesId kNorthAir = 3;
constexpr SeriesId kYardAir = 9;
constexpr SeriesId kYardHumidity = 10;

class Bench {
 public:
  explicit Bench(std::string command) : words_(words_of(command)) {}

  // What the sensor says, so long after the beginning; asked every `gap`.
  void says(SeriesId series, std::chrono::seconds gap,
            std::function<double(std::chrono::seconds)> value) {
    voices_.push_back({series, gap, std::move(value)});
  }
  void person_types(std::string answer) { answer_ = std::move(answer); }
  void interrupted_after(std::chrono::seconds span) { interrupted_after_ = span; }
  void at(Instant now) { now_ = start_ = now; }
  Store& store() { return store_; }

  Reply run() {
    const Conversation conversation{
        .tell = [this](std::string_view lines) { told += lines; },
        .ask = [this](std::string_view question) -> std::optional<std::string> {
          told += question;
          return answer_;
        },
        .wait = [this](std::chrono::seconds span) { return wait(span); },
        .write = {},
        .progress = {}};
    return run_with(&conversation);
  }
  // With nobody to wait with.
  Reply look() { return run_with(nullptr); }

  // So that what comes later is in the store, as if hours had passed.
  void pass(std::chrono::seconds span) {
    const Instant until = now_ + span;
    while (now_ < until)
      wait(10s);
  }

  std::vector<ActionRow> actions() { return store_.actions_after(0); }

  std::string told;

 private:
  struct Voice {
    SeriesId series;
    std::chrono::seconds gap;
    std::function<double(std::chrono::seconds)> value;
  };

  Reply run_with(const Conversation* conversation) {
    const auto command = parse_command(words_, {});
    if (!command) return command.error();
    Surroundings around;
    around.format = command->format;
    around.system_now = now_;
    around.conversation = conversation;
    const Garden garden = sample_garden();
    const Zone zone = sample_zone();
    const Context context{.around = around,
                          .garden = garden,
                          .zone = zone,
                          .store = store_,
                          .now = now_,
                          .clock_from_readings = false};
    return command->verb->details.answer(context, command->arguments);
  }

  std::optional<Instant> wait(std::chrono::seconds span) {
    now_ += span;
    if (interrupted_after_ && now_ - start_ >= *interrupted_after_) return std::nullopt;
    Changes changes;
    changes.now = now_;
    for (const Voice& voice : voices_) {
      for (Instant at = now_ - span + 1s; at <= now_; at += 1s) {
        if ((at - start_) % voice.gap != 0s) continue;
        changes.doubtful.push_back({at, voice.series, voice.value(at - start_),
                                    Doubt::kCalibration, "during a calibration"});
      }
    }
    changes.marks["now"] = now_.time_since_epoch().count();
    store_.commit(changes);
    return now_;
  }

  std::vector<std::string> words_;
  Instant start_ = sample_evening();
  Instant now_ = sample_evening();
  Store store_ = sample_store(sample_evening());
  std::vector<Voice> voices_;
  std::optional<std::string> answer_;
  std::optional<std::chrono::seconds> interrupted_after_;
};

// A probe of 1/16 degree that is 0.43 too high, put into ice at the beginning.
double in_ice(std::chrono::seconds since) {
  const double true_value = 20 * std::exp(-static_cast<double>(since.count()) / 120);
  return std::round((true_value + 0.43) * 16) / 16;
}

std::vector<std::string> verbs_of(const std::vector<ActionRow>& actions) {
  std::vector<std::string> verbs;
  for (const ActionRow& action : actions)
    verbs.push_back(action.verb + " " + action.sensor);
  return verbs;
}

TEST_CASE("a probe in ice is waited for, asked about and corrected") {
  Bench bench("calibrate north-probe ice");
  bench.says(kNorthAir, 60s, in_ice);
  bench.person_types("y");
  const Reply reply = bench.run();
  CAPTURE(bench.told);
  CAPTURE(reply.text);
  CHECK(reply.status == 0);
  CHECK(bench.told.find("Crush clean ice") != std::string::npos);
  CHECK(bench.told.find("still falls, by") != std::string::npos);
  CHECK(bench.told.find("It says 0.4") != std::string::npos);
  CHECK(bench.told.find("takes the place of -0.43 °C") != std::string::npos);
  CHECK(bench.told.find("Store it? [y/N]") != std::string::npos);
  const auto actions = bench.actions();
  CHECK(verbs_of(actions) == std::vector<std::string>{"check north-probe",
                                                      "correct north-probe",
                                                      "check north-probe"});
  CHECK(actions[0].at == sample_evening());
  CHECK(actions[0].detail == "7200");
  const auto row = correction_from_json(actions[1].detail);
  REQUIRE(row);
  CHECK(row->sensor == "north-probe");
  CHECK(row->channel == Channel::kAirTemperature);
  CHECK(row->method == "ice");
  CHECK(row->gain == 1);
  // At least the ice's 0.05 and a sixteenth evenly spread, each squared; twice the root.
  CHECK(row->uncertainty >= 2 * std::hypot(0.05, 0.0625 / std::sqrt(12.0)));
  CHECK(row->uncertainty < 0.2);
  CHECK(std::abs(row->offset + 0.43) < row->uncertainty);
  CHECK(row->since == actions[1].at);
  CHECK(actions[1].at > sample_evening() + 10min);
  CHECK(actions[2].detail == "1200");
}

TEST_CASE("with no to the question nothing is stored and the check ends") {
  Bench bench("calibrate north-probe ice");
  bench.says(kNorthAir, 60s, in_ice);
  bench.person_types("n");
  const Reply reply = bench.run();
  CHECK(reply.status == 0);
  const auto actions = bench.actions();
  REQUIRE(actions.size() == 2);
  CHECK(actions[1].verb == "check");
  CHECK(actions[1].detail == "1200");
}

TEST_CASE("an interrupt ends a check in ice, and leaves one over salt") {
  Bench ice("calibrate north-probe ice");
  ice.says(kNorthAir, 60s, in_ice);
  ice.interrupted_after(3min);
  CHECK(ice.run().status == 1);
  REQUIRE(ice.actions().size() == 2);
  CHECK(ice.actions()[1].detail == "1200");

  Bench salt("calibrate yard-probe salt --salt sodium-chloride --wait 20h");
  salt.interrupted_after(3min);
  const Reply reply = salt.run();
  CHECK(reply.status == 0);
  CHECK(reply.text.find("goes on until Tue 14 Apr 00:40") != std::string::npos);
  REQUIRE(salt.actions().size() == 1);
  CHECK(salt.actions()[0].detail == "108000");
}

TEST_CASE("a probe that never settles ends its check when the time is up") {
  Bench bench("calibrate north-probe ice --wait 30min");
  bench.says(kNorthAir, 60s, [](std::chrono::seconds since) {
    return 0.5 + 0.001 * static_cast<double>(since.count());
  });
  const Reply reply = bench.run();
  CHECK(reply.status == 1);
  CHECK(reply.text.find("still rises, by 0.30 °C in 5 min") != std::string::npos);
  CHECK(bench.actions().size() == 2);
}

TEST_CASE("a probe that is not in the ice yet is waited for") {
  Bench bench("calibrate north-probe ice");
  bench.says(kNorthAir, 60s, [](std::chrono::seconds since) {
    return since < 20min ? 19.5 : in_ice(since - 20min);
  });
  bench.person_types("y");
  CHECK(bench.run().status == 0);
  CHECK(bench.told.find("steady, but far from 0.00 °C: is it in the ice yet?") !=
        std::string::npos);
}

TEST_CASE("a probe that is too far off is doubted, and stored only with --anyway") {
  const auto far = [](std::chrono::seconds since) { return in_ice(since) + 1; };
  Bench bench("calibrate north-probe ice --yes");
  bench.says(kNorthAir, 60s, far);
  const Reply reply = bench.run();
  CHECK(reply.status == 1);
  CHECK(bench.told.find("more than the 1.00 °C") != std::string::npos);
  CHECK(bench.actions().size() == 1);

  Bench anyway("calibrate north-probe ice --yes --anyway");
  anyway.says(kNorthAir, 60s, far);
  CHECK(anyway.run().status == 0);
  REQUIRE(anyway.actions().size() == 3);
  CHECK(correction_from_json(anyway.actions()[1].detail)->offset ==
        doctest::Approx(-1.43).epsilon(0.05));
}

TEST_CASE("with nobody to ask nothing is stored but with --yes") {
  Bench bench("calibrate north-probe ice");
  bench.says(kNorthAir, 60s, in_ice);
  const Reply first = bench.look();
  CHECK(first.status == 0);
  CHECK(first.text.find(
            "Not settled yet: nothing was heard of it since the check began.") !=
        std::string::npos);
  bench.pass(30min);
  const Reply later = bench.look();
  CHECK(later.text.find("The check of north-probe goes on since 18:40") !=
        std::string::npos);
  CHECK(later.text.find("`rimeward calibrate north-probe ice --yes` does") !=
        std::string::npos);
  CHECK(bench.actions().size() == 1);
}

double over_salt(std::chrono::seconds since) {
  const double hours = static_cast<double>(since.count()) / 3600;
  return std::round((80.1 - 30 * std::exp(-hours)) * 10) / 10;
}

Bench salt_bench(const std::string& options) {
  Bench bench("calibrate yard-probe salt --salt sodium-chloride" + options);
  return bench;
}

TEST_CASE("salt is left for the night and settled by the same command") {
  Bench bench = salt_bench(" --yes");
  bench.says(kYardAir, 10min, [](std::chrono::seconds) { return 20.0; });
  bench.says(kYardHumidity, 10min, over_salt);
  // As if it had never been corrected.
  Changes changes;
  changes.now = sample_evening();
  changes.corrections[3] = bench.store().corrections().at(2);
  changes.corrections[3].until = sample_evening();
  bench.store().commit(changes);

  CHECK(bench.run().status == 0);
  CHECK(bench.told.find("a slurry") != std::string::npos);
  bench.pass(4h);
  bench.told.clear();
  CHECK(bench.run().text.find("in the jar for 4 h so") != std::string::npos);
  bench.pass(6h);
  const Reply reply = bench.run();
  CAPTURE(bench.told);
  CHECK(reply.status == 0);
  const auto actions = bench.actions();
  REQUIRE(actions.size() == 3);
  const auto row = correction_from_json(actions[1].detail);
  REQUIRE(row);
  CHECK(row->method == "salt sodium-chloride");
  // Greenspan 1977: 75.48 % at 20 °C.
  CHECK(row->offset == doctest::Approx(75.48 - 80.1).epsilon(0.01));
  CHECK(row->uncertainty > 0.9);
}

TEST_CASE("a second salt makes a line with the point of the first") {
  Bench bench = salt_bench(" --yes --at 20");
  bench.says(kYardHumidity, 10min, over_salt);
  // The sample's own correction holds a point above magnesium chloride.
  bench.run();
  bench.pass(10h);
  const Reply reply = bench.run();
  CAPTURE(bench.told);
  CHECK(reply.status == 0);
  CHECK(bench.told.find("With what was found above magnesium chloride") !=
        std::string::npos);
  const auto row = correction_from_json(bench.actions().at(1).detail);
  REQUIRE(row);
  CHECK(row->method == "salt magnesium-chloride, sodium-chloride");
  CHECK(row->gain * 36.0 + row->offset == doctest::Approx(33.07));
  CHECK(row->gain * 80.1 + row->offset == doctest::Approx(75.48).epsilon(0.001));
  CHECK(points_from_json(row->points).size() == 2);
}

TEST_CASE("a check that was begun for ice does not pass for one over salt") {
  Bench bench = salt_bench("");
  ActionRow action;
  action.at = sample_evening() - 10min;
  action.verb = "check";
  action.sensor = "yard-probe";
  action.detail = "7200";
  bench.store().add_action(action);
  CHECK(bench.run().status == 0);
  CHECK(bench.actions().size() == 2);
  CHECK(bench.actions()[1].detail == "108000");
}

TEST_CASE("stop ends a check, and then the time to settle") {
  Bench bench("calibrate north-probe stop");
  CHECK(bench.run().status == 1);
  ActionRow action;
  action.at = sample_evening() - 10min;
  action.verb = "check";
  action.sensor = "north-probe";
  action.detail = "7200";
  bench.store().add_action(action);
  CHECK(bench.run().status == 0);
  CHECK(bench.actions().at(1).detail == "1200");
  CHECK(bench.run().status == 0);
  CHECK(bench.actions().at(2).detail == "0");
  CHECK(bench.run().status == 1);
}

TEST_CASE("what a check came to is one JSON document, with all numbers") {
  Bench bench("calibrate north-probe ice --yes --json");
  bench.says(kNorthAir, 60s, in_ice);
  const json answer = json::parse(bench.run().text);
  CHECK(answer.at("verb") == "correct");
  CHECK(answer.at("state") == "stored");
  CHECK(answer.at("sensor") == "north-probe");
  CHECK(answer.at("said").get<double>() == doctest::Approx(0.43).epsilon(0.1));
  CHECK(answer.at("true") == 0.0);
  CHECK(answer.at("offset") == -answer.at("said").get<double>());
  CHECK(answer.at("replaces") == 2);
  CHECK(answer.at("daemon_running") == true);
}

TEST_CASE("degrees Fahrenheit that are typed are stored as degrees Celsius") {
  Store store = sample_store(sample_evening());
  Garden garden = sample_garden();
  garden.units = TemperatureUnit::kFahrenheit;
  const Reply reply = run_client_on(
      store, garden, words_of("calibrate south-probe offset --by -0.9 --yes"), {});
  CHECK(reply.status == 0);
  CHECK(reply.text.find("-0.90 °F") != std::string::npos);
  CHECK(correction_from_json(store.actions_after(0).at(0).detail)->offset ==
        doctest::Approx(-0.5));
  const Reply line = run_client_on(
      store, garden,
      words_of("calibrate south-probe two-point --points 32.9=32,86=86 --yes"), {});
  CHECK(line.status == 0);
  const auto row = correction_from_json(store.actions_after(0).at(1).detail);
  CHECK(row->gain * 0.5 + row->offset == doctest::Approx(0.0).epsilon(0.001));
  CHECK(row->gain * 30 + row->offset == doctest::Approx(30.0).epsilon(0.001));
}

}  // namespace
}  // namespace rimeward
