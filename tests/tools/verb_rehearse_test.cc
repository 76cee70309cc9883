#include <algorithm>
#include <fstream>
#include <sstream>

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include "tests/support/played.h"
#include "tests/support/scratch_folder.h"
#include "tools/cli/verb.h"

using namespace rimeward;

namespace {

const std::string kData =
    std::string(RIMEWARD_SOURCE_DIR) + "/tests/data/live_readings.csv";

using Words = std::map<std::string, std::string>;

Words at_hochfeld() {
  return {{"DATA", kData},
          {"--latitude", "48.41"},
          {"--longitude", "9.52"},
          {"--time-zone", "Europe/Berlin"}};
}

Reply rehearsed(const Words& words, Format format = Format::kText,
                const std::filesystem::path& config = {}) {
  Surroundings around;
  around.config_file = config;
  around.format = format;
  Arguments arguments;
  for (const auto& [name, value] : words)
    arguments.set(name, value);
  return find_verb("rehearse")->details.answer_alone(around, arguments);
}

std::vector<std::string> lines_of(const std::filesystem::path& file) {
  std::ifstream stream(file);
  std::vector<std::string> lines;
  for (std::string line; std::getline(stream, line);)
    lines.push_back(line);
  return lines;
}

}  // namespace

TEST_CASE("a rehearsal prints its notices, and its scores beside the simple forecasts") {
  const Reply reply = rehearsed(at_hochfeld());
  REQUIRE(reply.status == 0);
  CHECK(reply.text.starts_with("5856 readings rehearsed, "));
  for (const char* words :
       {"Fleece the place tonight, by ", "from the 15th night on", "mean error, °C",
        "too warm +, too cold -, °C", "lows within the 80 % range, %",
        "Brier score of the odds", "The first 14 nights, while it settled in: mean error",
        "Brier, this outlook", "error °C, as last night", "Brier, mean fall of 14 nights",
        "Brier, FAO regression", "Brier, share of nights so far",
        "How often the odds of a night below 0.0 °C came true", "under 5 %",
        "A forecast is never a promise."}) {
    CAPTURE(words);
    CHECK(reply.text.find(words) != std::string::npos);
  }
}

TEST_CASE("a record of a few nights is told as such, without empty tables") {
  const ScratchFolder folder;
  std::ofstream few(folder / "few.csv");
  const auto data = lines_of(kData);
  for (std::size_t i = 0; i < 10 * 48; ++i)
    few << data[i] << "\n";
  few.close();
  Words words = at_hochfeld();
  words["DATA"] = (folder / "few.csv").string();
  const Reply reply = rehearsed(words);
  REQUIRE(reply.status == 0);
  CHECK(reply.text.find("no 15th night to judge outlooks by") != std::string::npos);
  CHECK(reply.text.find("The first 14 nights, while it settled in") != std::string::npos);
  CHECK(reply.text.find("Beside simple forecasts") == std::string::npos);
  CHECK(reply.text.find("How often the odds") == std::string::npos);
}

TEST_CASE("--nights writes every outlook by the contract, and the low that came") {
  const ScratchFolder folder;
  Words words = at_hochfeld();
  words["--nights"] = (folder / "nights.csv").string();
  REQUIRE(rehearsed(words).status == 0);
  const auto lines = lines_of(folder / "nights.csv");
  REQUIRE(lines.size() == 245);  // four a night of 61
  CHECK(lines[0] ==
        "night,place,issue,issued_at,low,low10,low90,odds_below_0,observed_low");
  // In early March an hour before sunset comes after three hours past noon.
  CHECK(lines[1].starts_with("2026-03-02,place,afternoon,2026-03-01T14:34:"));
  CHECK(lines[2].starts_with("2026-03-02,place,dusk,2026-03-01T16:"));
  CHECK(lines[3].starts_with("2026-03-02,place,dark,2026-03-01T19:"));
  CHECK(lines[4].starts_with("2026-03-02,place,late,2026-03-01T21:34:"));
  for (std::size_t i = 1; i < lines.size(); ++i) {
    CAPTURE(lines[i]);
    CHECK(lines[i].find("-0.000") == std::string::npos);
    CHECK(lines[i].find("nan") == std::string::npos);
  }
}

TEST_CASE("an outlook rests on nothing that was read after it was issued") {
  const ScratchFolder folder;
  Words words = at_hochfeld();
  words["--nights"] = (folder / "all.csv").string();
  REQUIRE(rehearsed(words).status == 0);
  // The first half of the readings, then others than those that came.
  std::ofstream changed(folder / "changed.csv");
  const auto data = lines_of(kData);
  const std::size_t half = data.size() / 2;
  for (std::size_t i = 0; i < data.size(); ++i) {
    changed << (i <= half ? data[i] : data[i].substr(0, data[i].find(',')) + ",19.5,40")
            << "\n";
  }
  changed.close();
  const std::string until = data[half].substr(0, 20);
  words["DATA"] = (folder / "changed.csv").string();
  words["--nights"] = (folder / "half.csv").string();
  REQUIRE(rehearsed(words).status == 0);
  const auto all = lines_of(folder / "all.csv");
  const auto other = lines_of(folder / "half.csv");
  std::size_t same = 0;
  for (std::size_t i = 1; i < all.size(); ++i) {
    std::istringstream fields(all[i]);
    std::string issued;
    for (int field = 0; field < 4; ++field)
      std::getline(fields, issued, ',');
    if (issued > until) break;
    // All but the low that came, which is the future's.
    CHECK(other[i].substr(0, other[i].rfind(',')) == all[i].substr(0, all[i].rfind(',')));
    ++same;
  }
  CHECK(same > 100);
}

TEST_CASE("the rehearsal's JSON has notices, and scores for each moment") {
  const Reply reply = rehearsed(at_hochfeld(), Format::kJson);
  REQUIRE(reply.status == 0);
  const auto document = nlohmann::json::parse(reply.text);
  CHECK(document.at("readings") == 5856);
  CHECK(document.at("outlooks") == 244);
  CHECK(document.at("notices").at(0).contains("title"));
  const auto& scores = document.at("places").at(0).at("scores");
  REQUIRE(scores.size() == 4);
  CHECK(scores.at(1).at("issue") == "dusk");
  const auto& dusk = scores.at(1);
  for (const char* name :
       {"mean_absolute_error_celsius", "mean_range_celsius", "crps_celsius", "brier"}) {
    CAPTURE(name);
    CHECK(dusk.at(name) > 0.0);
    CHECK(dusk.at(name) < 10.0);
  }
  CHECK(dusk.at("nights").get<int>() + dusk.at("first_nights").at("nights").get<int>() ==
        60);  // 61 but for the last, which was not over
  const auto& beside = dusk.at("beside");
  CHECK(beside.at("nights") > 30);
  CHECK(beside.at("nights") <= dusk.at("nights"));
  for (const char* name : {"outlook", "as_last_night", "mean_fall", "fao_regression"}) {
    CAPTURE(name);
    CHECK(beside.at(name).at("mean_absolute_error_celsius") > 0.0);
    CHECK(beside.at(name).at("mean_absolute_error_celsius") < 5.0);
    CHECK(beside.at(name).at("brier") > 0.0);
    CHECK(beside.at(name).at("brier") < 1.0);
  }
  CHECK(beside.at("share_so_far").at("mean_absolute_error_celsius").is_null());
  CHECK(beside.at("brier_skill").get<double>() ==
        doctest::Approx(1 - beside.at("outlook").at("brier").get<double>() /
                                beside.at("share_so_far").at("brier").get<double>()));
}

TEST_CASE("each outlook from the 15th night on is in one row of the odds") {
  const auto document =
      nlohmann::json::parse(rehearsed(at_hochfeld(), Format::kJson).text);
  const auto& place = document.at("places").at(0);
  int outlooks = 0;
  int nights = 0;
  for (const auto& moment : place.at("scores")) {
    nights += moment.at("nights").get<int>();
    for (const auto& row : moment.at("reliability")) {
      outlooks += row.at("outlooks").get<int>();
      CHECK(row.at("mean_odds") >= row.at("from"));
      CHECK(row.at("mean_odds") <= row.at("below"));
    }
  }
  CHECK(outlooks == nights);
  for (const auto& row : place.at("reliability"))
    outlooks -= row.at("outlooks").get<int>();
  CHECK(outlooks == 0);
}

TEST_CASE("scores in a garden that reads in Fahrenheit are in its degrees") {
  const ScratchFolder folder;
  std::ofstream(folder / "garden.toml") << R"(
[garden]
name = "Hochfeld school garden"
latitude = 48.41
longitude = 9.52
time_zone = "Europe/Berlin"
units = "fahrenheit"
[[place]]
id = "yard"
name = "Yard"
kind = "outdoors"
keep_above = 0.0
)";
  const Words words{{"DATA", kData}, {"--place", "yard"}};
  const Reply reply = rehearsed(words, Format::kText, folder / "garden.toml");
  REQUIRE(reply.status == 0);
  CHECK(reply.text.find("mean error, °F") != std::string::npos);
  CHECK(reply.text.find("nights below 32.0 °F called") != std::string::npos);
  CHECK(reply.text.find("°C,") == std::string::npos);
}

TEST_CASE("a captured log is rehearsed in the garden of the settings, at its own times") {
  const ScratchFolder folder;
  std::ofstream(folder / "garden.toml") << R"(
[garden]
name = "Hochfeld school garden"
latitude = 48.41
longitude = 9.52
time_zone = "Europe/Berlin"
[[place]]
id = "north-frame"
name = "North frame"
kind = "frame"
keep_above = 1.0
fleece_layers = 2
[[sensor]]
id = "north-frame-probe"
place = "north-frame"
topic = "garden/north-frame/climate"
format = "json"
)";
  std::ofstream log(folder / "captured.log");
  log << "# device: an invented probe\n";
  for (const Arrival& arrival : rimeward::testing::invented_arrivals(6)) {
    log << to_line(arrival);  // the yard's too, which this garden does not have
  }
  log.close();
  const Words words{{"DATA", (folder / "captured.log").string()}, {"--log", ""}};
  const Reply reply = rehearsed(words, Format::kJson, folder / "garden.toml");
  REQUIRE(reply.status == 0);
  const auto document = nlohmann::json::parse(reply.text);
  CHECK(document.at("readings") == 2 * 6 * 24 * 6);
  const auto& notices = document.at("notices");
  CHECK(std::ranges::any_of(notices, [](const auto& notice) {
    return notice.at("title") == "Fleece the north frame tonight";
  }));

  std::ofstream(folder / "captured.log", std::ios::app) << "1 yesterday q1 1 2 a b\n";
  const Reply broken = rehearsed(words, Format::kText, folder / "garden.toml");
  CHECK(broken.status == 1);
  CHECK(broken.trouble.find("captured.log:1700: ") != std::string::npos);
}

TEST_CASE("words that are wrong are misuse, files that cannot be read are not") {
  const auto with = [](const char* name, const char* value) {
    Words words = at_hochfeld();
    words[name] = value;
    return rehearsed(words);
  };
  CHECK(rehearsed({{"DATA", kData}, {"--latitude", "48"}}).status == 2);
  CHECK(with("--latitude", "200").status == 2);
  CHECK(with("--latitude", "200").trouble ==
        "--latitude: expected a number from -90 to 90, got \"200\"");
  CHECK(with("--time-zone", "Europe/Berln").status == 2);
  CHECK(with("--place-kind", "shed").status == 2);
  CHECK(with("DATA", "missing.csv").status == 1);
  CHECK(with("--prior", "missing.json").status == 1);
  CHECK(with("--nights", "/missing/nights.csv").status == 1);
}

TEST_CASE("a line of the file that is no reading is refused with its number") {
  const ScratchFolder folder;
  std::ofstream(folder / "bad.csv") << "time,temperature\n2026-03-01T00:00:00Z,warm\n";
  Words words = at_hochfeld();
  words["DATA"] = (folder / "bad.csv").string();
  const Reply reply = rehearsed(words);
  CHECK(reply.status == 1);
  CHECK(reply.trouble.find("bad.csv:2: temperature: expected a number") !=
        std::string::npos);
}
