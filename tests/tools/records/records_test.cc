// Export and import on a real store: what goes out comes in again, and only once.

#include <chrono>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <vector>

#include <doctest/doctest.h>
#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/store/highs_and_lows.h"
#include "sensors/iso_time.h"
#include "tests/daemon/store/store_builders.h"
#include "tests/daemon/store/store_probe.h"
#include "tests/support/sample_store.h"
#include "tests/support/scratch_folder.h"
#include "tests/tools/cli_run.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using std::chrono::days;
using std::chrono::sys_days;

constexpr sys_days kFirstDay{std::chrono::year{2026} / 4 / 8};

// A store in a folder of its own, and the terminal on it.
class RecordsGarden {
 public:
  RecordsGarden() { store_.set_days(hochfeld_days()); }

  Store& store() { return store_; }
  std::filesystem::path file(const std::string& name) const { return folder_ / name; }

  // Three days of two places, every ten minutes, as the daemon would have stored them.
  void hear_some() {
    Changes changes;
    changes.series = {{1, "north-probe", "north-frame", Channel::kAirTemperature},
                      {2, "north-probe", "north-frame", Channel::kHumidity},
                      {3, "yard-probe", "yard", Channel::kAirTemperature}};
    for (Instant at = kFirstDay; at < kFirstDay + days{3}; at += 10min) {
      const auto hour = (at - kFirstDay) / 1h % 24;
      changes.readings.push_back({at, 1, 500 * (hour - 6)});
      changes.readings.push_back({at, 2, 95'500 - 1000 * hour});
      changes.readings.push_back({at, 3, 250 * hour - 1125});
    }
    changes.now = sample_evening();
    store_.commit(changes);
  }

  std::string write(const std::string& name, std::string_view text) const {
    std::ofstream(folder_ / name, std::ios::binary) << text;
    return (folder_ / name).string();
  }

  Reply run(const std::vector<std::string>& words) {
    return run_client_on(store_, sample_garden(), words, {});
  }
  Reply import(const std::string& name, std::string_view text,
               std::vector<std::string> options = {}) {
    options.insert(options.begin(), {"import", write(name, text)});
    return run(options);
  }
  std::string exported(std::vector<std::string> options = {}) {
    options.insert(options.begin(), "export");
    const Reply reply = run(options);
    CHECK(reply.status == 0);
    CHECK(reply.trouble.empty());
    return reply.text;
  }

  // Every row of every table.
  std::vector<std::string> contents() const {
    std::vector<std::string> rows;
    const auto path = folder_ / "garden.db";
    for (const std::string& table :
         sqlite_rows(path, "SELECT name FROM sqlite_schema WHERE type = 'table'")) {
      for (const std::string& row : sqlite_rows(path, "SELECT * FROM " + table))
        rows.push_back(table + "|" + row);
    }
    return rows;
  }

 private:
  ScratchFolder folder_;
  Store store_ = Store::open(folder_ / "garden.db", Store::Access::kReadWrite);
};

// The details of the actions that imports left.
std::vector<std::string> imports_told(const Store& store) {
  std::vector<std::string> details;
  for (const ActionRow& action : store.actions_after(0)) {
    CHECK(action.verb == "import");
    details.push_back(action.detail);
  }
  return details;
}

std::size_t lines_in(const std::string& text) {
  return static_cast<std::size_t>(std::ranges::count(text, '\n'));
}

std::string in_file(const std::filesystem::path& file) {
  std::ifstream stream(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(stream), {}};
}

TEST_CASE("readings exported from one store and imported into another are the same") {
  RecordsGarden here;
  here.hear_some();
  RecordsGarden there;
  const std::string csv = here.exported();
  CHECK(lines_in(csv) == 1 + 3 * 3 * 144);
  CHECK(
      csv.starts_with("time,sensor,place,channel,value\n"
                      "2026-04-08T00:00:00Z,north-probe,north-frame,temperature,-3\n"
                      "2026-04-08T00:00:00Z,north-probe,north-frame,humidity,95.5\n"
                      "2026-04-08T00:00:00Z,yard-probe,yard,temperature,-1.125\n"));

  SUBCASE("as CSV") {
    const Reply reply = there.import("all.csv", csv);
    CHECK(reply.status == 0);
    CHECK(reply.text == "1296 readings imported\n");
  }
  SUBCASE("as JSON lines") {
    const std::string json = here.exported({"--json"});
    CHECK(json.starts_with(
        R"({"time":"2026-04-08T00:00:00Z","sensor":"north-probe","place":"north-frame",)"
        R"("channel":"temperature","value":-3})"
        "\n"));
    CHECK(there.import("all.jsonl", json).text == "1296 readings imported\n");
  }
  CHECK(there.exported({"--place", "yard"}) == here.exported({"--place", "yard"}));
  CHECK(there.exported({"--place", "north-frame", "--channel", "humidity"}) ==
        here.exported({"--place", "north-frame", "--channel", "humidity"}));
  CHECK(there.exported({"days"}) == here.exported({"days"}));
  CHECK(there.store().reading_count() == 1296);
  CHECK(imports_told(there.store()) == std::vector<std::string>{"begun", ""});
}

TEST_CASE("what was imported is in the summaries as if it had been heard") {
  RecordsGarden here;
  here.hear_some();
  RecordsGarden there;
  there.import("all.csv", here.exported());
  const auto query = [](const RecordsGarden& garden, const std::string& sql) {
    return sqlite_rows(garden.file("garden.db"), sql);
  };
  const std::string key =
      " JOIN series ON series.id = series ORDER BY 1, sensor, channel";
  const std::string hourly =
      "SELECT hour, sensor, channel, low_milli, low_at, high_milli, high_at, sum_milli, "
      "readings FROM hourly" +
      key;
  const std::string daily =
      "SELECT day, sensor, channel, low_milli, low_at, high_milli, high_at, sum_milli, "
      "readings, hours FROM daily" +
      key;
  CHECK(query(there, hourly).size() == 216);
  CHECK(query(there, hourly) == query(here, hourly));
  CHECK(query(there, daily).size() > 6);
  CHECK(query(there, daily) == query(here, daily));
  CHECK(query(there, "SELECT readings_before FROM summary_state") ==
        std::vector<std::string>{"1296"});
}

TEST_CASE("the same file twice changes nothing in any table") {
  RecordsGarden here;
  here.hear_some();
  RecordsGarden there;
  const std::string csv = here.exported();
  const std::string notebook = "date,place,low,high\n2025-05-01,yard,2.5,17\n";
  there.import("all.csv", csv);
  there.import("days.csv", notebook);
  const auto before = there.contents();
  CHECK(before.size() > 1296);

  CHECK(there.import("all.csv", csv).text ==
        "no reading imported, 1296 were there already\n");
  CHECK(there.import("days.csv", notebook).text ==
        "no day imported, 1 was there already\n");
  CHECK(there.contents() == before);
}

TEST_CASE("a store's own export changes nothing in it") {
  RecordsGarden here;
  here.hear_some();
  const auto before = here.contents();
  here.import("all.csv", here.exported());
  CHECK(here.contents() == before);
  CHECK(here.store().tallies().empty());
}

TEST_CASE("another value for a second is told by its line, and what is stored stays") {
  RecordsGarden garden;
  garden.hear_some();
  const Reply reply =
      garden.import("some.csv",
                    "time,sensor,place,channel,value\n"
                    "2026-04-08T00:00:00Z,north-probe,north-frame,temperature,-3\n"
                    "2026-04-08T00:00:00Z,yard-probe,yard,temperature,7\n"
                    "2025-04-08T00:00:00Z,yard-probe,yard,temperature,7\n"
                    "2025-04-08T00:00:00Z,yard-probe,yard,temperature,8\n");
  CHECK(reply.status == 0);
  CHECK(reply.text ==
        "1 reading imported, 1 was there already, 2 differ from what is stored, which\n"
        "stays (lines 3, 5)\n");
  CHECK(garden.store().doubtful(Instant::min(), Instant::max()).empty());
  CHECK(garden.store().tallies().empty());
  CHECK(garden.exported({"--to", "2025-12-31"}) ==
        "time,sensor,place,channel,value\n"
        "2025-04-08T00:00:00Z,yard-probe,yard,temperature,7\n");
}

TEST_CASE("imported readings join their sensor's series, and new ones get ids below 0") {
  RecordsGarden garden;
  garden.hear_some();
  garden.import("some.csv",
                "time,sensor,place,channel,value\n"
                "2025-04-08T00:00:00Z,yard-probe,yard,temperature,7\n"
                "2025-04-08T00:00:00Z,old-probe,yard,temperature,7\n"
                "2025-04-08T00:00:00Z,old-probe,yard,humidity,70\n");
  std::vector<SeriesId> ids;
  for (const SeriesRow& row : garden.store().all_series())
    ids.push_back(row.id);
  CHECK(ids == std::vector<SeriesId>{-2, -1, 1, 2, 3});
  CHECK(garden.store().latest_times(3, 10'000, Instant::min()).size() == 433);
}

TEST_CASE("where a line is bad nothing is imported, and every one is told by number") {
  RecordsGarden garden;
  garden.hear_some();
  const auto before = garden.contents();
  const std::string text =
      "time,sensor,place,channel,value\n"
      "2025-04-08T00:00:00Z,yard-probe,yard,temperature,7\n"
      "2025-04-08T00:10:00Z,yard-probe,yard,temperature,abc\n"
      "\n"
      "2025-04-08T00:20:00Z,yard-probe,yrd,temperature,7\n"
      "2025-04-08T00:30:00Z,yard-probe,yard,temperature,8\n";
  const std::string file = garden.file("april.csv").string();
  const std::string bad =
      file + ":3: value \"abc\" is not a number\n" + file +
      ":5: no place \"yrd\"; did you mean \"yard\"?; places: glasshouse, north-frame, "
      "south-frame, pea-bed, yard";

  const Reply refused = garden.import("april.csv", text);
  CHECK(refused.status == 1);
  CHECK(refused.text.empty());
  CHECK(refused.trouble == bad +
                               "\nnothing was imported: mend these lines, or leave them "
                               "out with --skip-bad");
  CHECK(garden.contents() == before);

  const Reply skipped = garden.import("april.csv", text, {"--skip-bad"});
  CHECK(skipped.status == 0);
  CHECK(skipped.text == "2 readings imported, 2 bad lines left out\n");
  CHECK(skipped.trouble == bad);
  CHECK(lines_in(garden.exported({"--to", "2025-12-31"})) == 1 + 2);
}

TEST_CASE("of very many bad lines twenty are told and the others counted") {
  RecordsGarden garden;
  std::string text = "time,sensor,place,channel,value\n";
  for (int i = 0; i < 1000; ++i)
    text += "today,yard-probe,yard,temperature,7\n";
  const Reply reply = garden.import("bad.csv", text);
  CHECK(reply.status == 1);
  CHECK(lines_in(reply.trouble) == 21);
  CHECK(reply.trouble.find("\nand 980 more lines like these\n") != std::string::npos);
}

TEST_CASE("the document of an import says what the text says") {
  RecordsGarden garden;
  garden.hear_some();
  const Reply reply =
      garden.import("some.csv",
                    "time,sensor,place,channel,value,remark\n"
                    "2026-04-08T00:00:00Z,yard-probe,yard,temperature,7,\n"
                    "2025-04-08T00:00:00Z,yard-probe,yard,temperature,7,first\n"
                    "2025-04-08T00:00:00Z,yard-probe,yard,temprature,7,\n",
                    {"--skip-bad", "--json"});
  CHECK(reply.status == 0);
  const auto json = nlohmann::json::parse(reply.text);
  CHECK(json["kind"] == "readings");
  CHECK(json["imported"] == 1);
  CHECK(json["there_already"] == 0);
  CHECK(json["different"] == 1);
  CHECK(json["different_lines"] == nlohmann::json{2});
  CHECK(json["bad"] == 1);
  CHECK(json["bad_lines"][0]["line"] == 4);
  CHECK(json["columns_passed_over"] == nlohmann::json{"remark"});
}

// A gardener's own notebook, typed into a spreadsheet on a German machine.
constexpr std::string_view kNotebook =
    "\xef\xbb\xbf"
    "Remark;High;low;date;low_at\r\n"
    "first peas;18,4;-1,2;12.4.2024;06:20\r\n"
    "\"windy;\r\n\"\"very\"\"\";-;0,5;13.04.2024;\r\n"
    ";;;14.04.2024;\r\n"
    ";19;;2024-04-15;";

TEST_CASE("a notebook's days come in, and highs and lows then know them") {
  RecordsGarden garden;
  const Reply reply = garden.import("book.csv", kNotebook, {"--place", "North frame"});
  CHECK(reply.trouble.empty());
  CHECK(reply.text == "3 days imported\ncolumns passed over: Remark\n");
  CHECK(garden.exported({"days"}) ==
        "date,place,low,low_at,high,high_at\n"
        "2024-04-12,north-frame,-1.2,2024-04-12T04:20:00Z,18.4,\n"
        "2024-04-13,north-frame,0.5,,,\n"
        "2024-04-15,north-frame,,,19,\n");
  CHECK(garden.exported({"days", "--json", "--to", "2024-04-12"}) ==
        R"({"date":"2024-04-12","place":"north-frame","low":-1.2,)"
        R"("low_at":"2024-04-12T04:20:00Z","high":18.4,"high_at":null})"
        "\n");

  const sys_days date{std::chrono::year{2024} / 4 / 12};
  const auto known =
      highs_and_lows(garden.store(), sample_garden(), date, date, hochfeld_days());
  REQUIRE(known[1].contains(date));
  CHECK(known[1].at(date).low->air == Celsius{-1.2});
  CHECK(known[1].at(date).low->is_noted);
}

TEST_CASE("days exported from one store and imported into another are the same") {
  RecordsGarden here;
  here.hear_some();
  here.import("book.csv", kNotebook, {"--place", "north-frame"});
  for (const std::string form : {"--csv", "--json"}) {
    RecordsGarden there;
    there.import("days", here.exported({"days", form}));
    CHECK(there.exported({"days", form}) == here.exported({"days", form}));
  }
}

TEST_CASE("a low and a high of one date complete each other; another low is told") {
  RecordsGarden garden;
  garden.import("low.csv", "date,place,low\n2024-04-12,yard,1.5\n");
  CHECK(garden.import("high.csv", "date,place,high\n2024-04-12,yard,17\n").text ==
        "1 day imported\n");
  CHECK(garden.import("both.csv", "date,place,low,high\n2024-04-12,yard,2,17\n").text ==
        "no day imported, 1 differs from what is stored, which stays (line 2)\n");
  CHECK(garden
            .import("when.csv",
                    "date,place,low,low_at,high\n2024-04-12,yard,1.5,05:10,99\n",
                    {"--skip-bad"})
            .text == "no day imported, 1 bad line left out\n");
  CHECK(garden
            .import("when.csv",
                    "date,place,low,low_at,high\n2024-04-12,yard,1.5,05:10,18\n")
            .text ==
        "1 day imported, 1 differs from what is stored, which stays (line 2)\n");
  CHECK(garden.exported({"days"}) ==
        "date,place,low,low_at,high,high_at\n"
        "2024-04-12,yard,1.5,2024-04-12T03:10:00Z,17,\n");
}

TEST_CASE("degrees Fahrenheit become degrees Celsius, other units stay") {
  RecordsGarden garden;
  garden.import("book.csv", "date,place,low,high\n2024-04-12,yard,14,64.4\n",
                {"--fahrenheit"});
  CHECK(garden.exported({"days"}) ==
        "date,place,low,low_at,high,high_at\n2024-04-12,yard,-10,,18,\n");
  garden.import("logger.csv",
                "time,sensor,place,channel,value\n"
                "2025-04-08T02:00:00+02:00,old-probe,yard,temperature,32\n"
                "2025-04-08T02:00:00+02:00,old-probe,yard,humidity,70\n",
                {"--fahrenheit"});
  CHECK(garden.exported({"readings"}) ==
        "time,sensor,place,channel,value\n"
        "2025-04-08T00:00:00Z,old-probe,yard,humidity,70\n"
        "2025-04-08T00:00:00Z,old-probe,yard,temperature,0\n");
}

TEST_CASE("an import that was stopped between two commits goes on where it was stopped") {
  RecordsGarden whole;
  RecordsGarden stopped;
  // 1,100 days: several groups.
  std::string text = "time,sensor,place,channel,value\n";
  const sys_days first{std::chrono::year{2022} / 1 / 1};
  for (int i = 0; i < 1100; ++i) {
    text += fmt::format("{},old-probe,yard,temperature,{}\n", format_utc(first + days{i}),
                        i % 20);
  }
  whole.import("old.csv", text);
  const std::size_t half = text.find('\n', text.size() / 2) + 1;
  stopped.import("old.csv", text.substr(0, half));
  const std::string said = stopped.import("old.csv", text).text;
  CHECK(said.find(" readings imported, ") != std::string::npos);
  CHECK(stopped.store().reading_count() == 1100);
  CHECK(stopped.exported() == whole.exported());
  for (const std::string table : {"hourly", "daily", "series", "summary_state"}) {
    CAPTURE(table);
    const std::string query = "SELECT * FROM " + table;
    CHECK(sqlite_rows(stopped.file("garden.db"), query) ==
          sqlite_rows(whole.file("garden.db"), query));
  }
}

TEST_CASE("an import stopped before its end is told to the daemon by the next one") {
  RecordsGarden garden;
  const std::string notebook = "date,place,low\n2025-05-01,yard,2.5\n";
  // As a process leaves it that is killed right after the commit.
  const NotedDayRow day{
      .date = std::chrono::year{2025} / 5 / 1, .place = "yard", .low = 2500};
  garden.store().add_records(std::vector{day},
                             ActionRow{.at = {}, .verb = "import", .detail = "begun"});
  CHECK(imports_told(garden.store()) == std::vector<std::string>{"begun"});

  CHECK(garden.import("days.csv", notebook).text ==
        "no day imported, 1 was there already\n");
  CHECK(imports_told(garden.store()) == std::vector<std::string>{"begun", ""});
  garden.import("days.csv", notebook);
  CHECK(imports_told(garden.store()) == std::vector<std::string>{"begun", ""});
}

TEST_CASE("a file sorted by sensor leaves the same as one sorted by time") {
  RecordsGarden here;
  here.hear_some();
  std::string by_sensor;
  for (const std::string channel : {"humidity", "temperature"}) {
    const std::string part = here.exported({"--channel", channel});
    by_sensor += by_sensor.empty() ? part : part.substr(part.find('\n') + 1);
  }
  RecordsGarden there;
  CHECK(there.import("all.csv", by_sensor).text == "1296 readings imported\n");
  CHECK(there.exported({"--place", "yard"}) == here.exported({"--place", "yard"}));
  CHECK(there.exported({"days"}) == here.exported({"days"}));
}

TEST_CASE("what the daemon commits between two groups is neither lost nor doubled") {
  RecordsGarden garden;
  garden.hear_some();
  // The daemon's own connection to the same file, with a grid of its own.
  Store daemon = Store::open(garden.file("garden.db"), Store::Access::kReadWrite);
  daemon.set_days(hochfeld_days());
  const auto hear = [&daemon](Instant at, Milli value) {
    Changes changes;
    changes.readings.push_back({at, 3, value});
    changes.now = sample_evening();
    daemon.commit(changes);
  };
  const std::string head = "time,sensor,place,channel,value\n";
  garden.import("a.csv", head + "2026-04-08T00:00:01Z,yard-probe,yard,temperature,-20\n");
  hear(kFirstDay + 2s, -30'000);
  garden.import("b.csv", head + "2026-04-08T00:00:03Z,yard-probe,yard,temperature,-25\n");
  hear(kFirstDay + 4s, -10'000);
  const auto hour = daemon.hours(3, kFirstDay, kFirstDay + 1h);
  REQUIRE(hour.size() == 1);
  CHECK(hour[0].extremes.count == 6 + 4);
  CHECK(hour[0].extremes.low == -30'000);
  CHECK(daemon.reading_count() == 1296 + 4);
  CHECK(garden.exported({"days", "--place", "yard", "--to", "2026-04-08"})
            .find("2026-04-08,yard,-30,2026-04-08T00:00:02Z") != std::string::npos);
}

TEST_CASE("days cut otherwise in a running daemon's store are left to the daemon") {
  RecordsGarden garden;
  garden.hear_some();
  garden.store().set_days(day_grid("Europe/Berlin", 0h));
  garden.import("a.csv",
                "time,sensor,place,channel,value\n"
                "2026-04-09T00:00:01Z,yard-probe,yard,temperature,-20\n");
  Store daemon = Store::open(garden.file("garden.db"), Store::Access::kReadWrite);
  const sys_days date = kFirstDay + days{1};
  const auto lowest = [&](const DayGrid& grid) {
    const auto rows = daemon.days(date - days{1}, date - days{1}, grid);
    return std::ranges::min(rows, {}, [](const DayRow& row) { return row.extremes.low; });
  };
  CHECK(lowest(hochfeld_days()).extremes.low == -20'000);
  daemon.set_days(hochfeld_days());
  CHECK(lowest(hochfeld_days()).extremes.low == -20'000);
}

TEST_CASE("an export into a file is there whole, and replaces none unasked") {
  RecordsGarden garden;
  garden.hear_some();
  const std::string file = garden.file("out.csv").string();
  const Reply reply = garden.run({"export", "--file", file, "--place", "yard"});
  CHECK(reply.status == 0);
  CHECK(reply.text.starts_with("432 readings written to"));
  CHECK(in_file(file) == garden.exported({"--place", "yard"}));

  const Reply again = garden.run({"export", "--file", file});
  CHECK(again.status == 1);
  CHECK(again.trouble == file + ": there already; name another file, or give --replace");
  CHECK(in_file(file) == garden.exported({"--place", "yard"}));

  CHECK(garden.run({"export", "days", "--file", file, "--replace"}).status == 0);
  CHECK(in_file(file) == garden.exported({"days"}));
  std::size_t files = 0;
  for (const auto& entry :
       std::filesystem::directory_iterator(garden.file("out.csv").parent_path())) {
    if (entry.path().string().find("out.csv") != std::string::npos) ++files;
  }
  CHECK(files == 1);
}

TEST_CASE("an export of some days begins and ends at the garden's midnights") {
  RecordsGarden garden;
  garden.hear_some();
  const std::string text = garden.exported(
      {"--from", "2026-04-09", "--to", "2026-04-09", "--channel", "humidity"});
  // Two hours ahead of UTC in April.
  CHECK(text.find("\n2026-04-08T22:00:00Z,") != std::string::npos);
  CHECK(text.find("2026-04-08T21:") == std::string::npos);
  CHECK(text.find("\n2026-04-09T21:50:00Z,") != std::string::npos);
  CHECK(text.find("2026-04-09T22:") == std::string::npos);
  CHECK(lines_in(text) == 1 + 144);
}

TEST_CASE("what is asked of an export wrongly is told") {
  RecordsGarden garden;
  struct Row {
    std::vector<std::string> words;
    const char* trouble;
  };
  const Row rows[] = {
      {{"export", "dayz"},
       "export: expected readings or days, got \"dayz\"; did you mean \"days\"?"},
      {{"export", "--channel", "temprature"},
       "--channel: no channel \"temprature\"; did you mean \"temperature\"?; channels: "
       "temperature, humidity, soil_temperature, soil_moisture, light, pressure, "
       "battery_voltage, battery, signal, forecast_low"},
      {{"export", "days", "--channel", "humidity"},
       "--channel is for readings: days are highs and lows of the air"},
      {{"export", "--replace"}, "--replace is for a file: name it with --file FILE"},
      {{"export", "--from", "2026-04-10", "--to", "2026-04-09"},
       "--from 2026-04-10 is after --to 2026-04-09"},
  };
  for (const Row& row : rows) {
    const Reply reply = garden.run(row.words);
    CHECK(reply.status == 2);
    CHECK(reply.trouble == row.trouble);
  }
}

TEST_CASE("a file that cannot be read, is a folder or is empty is told") {
  RecordsGarden garden;
  const std::string none = garden.file("none.csv").string();
  CHECK(garden.run({"import", none}).trouble ==
        none + ": cannot be read (No such file or directory)");
  const std::string folder = garden.file("none.csv").parent_path().string();
  CHECK(garden.run({"import", folder}).trouble ==
        folder + ": a folder; name a file in it");
  const std::string empty = garden.write("empty.csv", "");
  CHECK(garden.run({"import", empty}).trouble == empty + ": nothing in it");
  CHECK(garden.import("head.csv", "date,place,low\n").text == "no day imported\n");
}

}  // namespace
}  // namespace rimeward
