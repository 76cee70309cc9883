// `rimeward store` and `rimeward backup` on a store that is a file.

#include <chrono>
#include <filesystem>
#include <fstream>
#include <string>

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include "tests/support/sample_store.h"
#include "tests/support/scratch_folder.h"
#include "tests/tools/cli_run.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
namespace fs = std::filesystem;

class StoreOnDisk {
 public:
  StoreOnDisk() {
    Store store = Store::open(file(), Store::Access::kReadWrite);
    store.set_days(DayGrid(sample_zone(), 9h));
    Changes changes;
    changes.now = sample_evening();
    changes.series = {{1, "yard-probe", "yard", Channel::kAirTemperature}};
    for (Instant at = sample_evening() - 1200min; at < sample_evening(); at += 1min)
      changes.readings.push_back({at, 1, 4000});
    store.commit(changes);
  }

  fs::path file() const { return folder_ / "garden.db"; }
  fs::path folder() const { return folder_.path(); }

  Reply run(const std::string& command, const Conversation* conversation = nullptr,
            std::size_t width = 80) {
    Store store = Store::open(file(), Store::Access::kReadOnly);
    const Screen screen{.width = width, .colour = false, .utf8 = true};
    const auto parsed = parse_command(words_of(command), screen);
    if (!parsed) return parsed.error();
    const Garden garden = sample_garden();
    const Zone zone = sample_zone();
    Surroundings around;
    around.screen = screen;
    around.format = parsed->format;
    around.store_file = file();
    around.system_now = sample_evening();
    around.conversation = conversation;
    return parsed->verb->details.answer({.around = around,
                                         .garden = garden,
                                         .zone = zone,
                                         .store = store,
                                         .now = sample_evening()},
                                        parsed->arguments);
  }

 private:
  ScratchFolder folder_;
};

bool says(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
}

TEST_CASE("store says how large it is and what it holds, at any width") {
  StoreOnDisk garden;
  for (const std::size_t width : {60U, 80U, 120U}) {
    CAPTURE(width);
    const Reply reply = garden.run("store", nullptr, width);
    CHECK(reply.status == 0);
    CHECK(says(reply.text, "1,200, since 2026-04-11\n"));
    CHECK(says(reply.text, "2026-04-12 18:39\n"));
    CHECK(says(reply.text, "\nreadings       1,200\n"));
    CHECK(says(reply.text, "\nhours             20\n"));
    CHECK_FALSE(says(reply.text, "check"));
  }
}

TEST_CASE("store --check says whole, or damaged and what to do") {
  StoreOnDisk garden;
  CHECK(says(garden.run("store --check").text, "\ncheck            whole\n"));
  {
    std::fstream stream(garden.file(), std::ios::binary | std::ios::in | std::ios::out);
    const auto at = static_cast<std::streamoff>(fs::file_size(garden.file()) - 4096);
    stream.seekp(at);
    stream << std::string(300, '\x5a');
  }
  std::string told;
  try {
    const Reply reply = garden.run("store --check");
    CHECK(reply.status == 1);
    CHECK(says(reply.trouble, "it is damaged"));
    told = reply.text;
  } catch (const StoreError& error) {
    told = error.what();
  }
  CHECK((says(told, "Restore a backup") || says(told, "restore a backup")));
}

TEST_CASE("store in JSON says the same in numbers") {
  StoreOnDisk garden;
  const auto json = nlohmann::json::parse(garden.run("store --check --json").text);
  CHECK(json["store"] == garden.file().string());
  CHECK(json["readings"] == 1200);
  CHECK(json["rows"][1]["kind"] == "hours");
  CHECK(json["rows"][1]["rows"] == 20);
  CHECK(json["is_whole"] == true);
  CHECK(json["faults"].empty());
  CHECK(nlohmann::json::parse(garden.run("store --json").text)["is_whole"].is_null());
}

TEST_CASE("store tells what is packed and how much a day wears the card") {
  StoreOnDisk garden;
  CHECK(says(garden.run("store").text, "\npacked           no day yet, 1 day to go\n"));
  CHECK(says(garden.run("store").text,
             "\nwritten          not known before a whole day (UTC) has passed\n"));
  {
    Store store = Store::open(garden.file(), Store::Access::kReadWrite);
    store.pack_some(sample_evening());
    const auto today = std::chrono::floor<std::chrono::days>(sample_evening());
    for (int ago = 41; ago >= 0; --ago)  // 33 MB yesterday, 30 the day before
      store.add_written(today - std::chrono::days{ago},
                        30'000'000 + 3'000'000 * (ago % 2));
  }
  const std::string text = garden.run("store", nullptr, 100).text;
  CHECK(says(text, "\npacked           all days up to 2026-04-11\n"));
  CHECK(
      says(text, "\nwritten          31.5 MB a day (the last 30 days), 1.3 GB in all\n"));
  const auto json = nlohmann::json::parse(garden.run("store --json").text);
  CHECK(json["written_bytes_a_day"] == 31'500'000);
  CHECK(json["written_days"] == 30);
  CHECK(json["last_packed_day_utc"] == "2026-04-11");
  CHECK(json["days_to_pack"] == 0);
}

TEST_CASE("store --compact says what it came to") {
  StoreOnDisk garden;
  const Reply reply = garden.run("store --compact");
  CHECK(reply.status == 0);
  CHECK(says(reply.text, "\ncompacted: "));
  CHECK(says(reply.text, "\npacked           all days up to 2026-04-11\n"));
}

TEST_CASE("backup tells how far it is, then what it made and how to restore it") {
  StoreOnDisk garden;
  std::string doings;
  Conversation conversation;
  conversation.progress = [&doings](const Progress& progress) {
    doings += std::string(progress.doing) + "\n";
    if (progress.total) CHECK(progress.done <= *progress.total);
  };
  const std::string copy = (garden.folder() / "copy.db").string();
  const Reply reply = garden.run("backup " + copy, &conversation, 200);
  CHECK(reply.status == 0);
  CHECK(says(doings, "copying " + copy + "\nchecking " + copy + "\n"));
  CHECK(
      says(reply.text, "1,200 readings, the newest of 18:39; looked through and whole."));
  CHECK(says(reply.text, "To restore it: stop rimewardd, copy it over "));
  const Reply again = garden.run("backup " + copy);
  CHECK(again.status == 1);
  CHECK(says(again.trouble, "it is there already; name another file, or add --replace"));
  const auto json =
      nlohmann::json::parse(garden.run("backup --replace --json " + copy).text);
  CHECK(json["file"] == copy);
  CHECK(json["bytes"] == fs::file_size(copy));
  CHECK(json["newest_reading_at"] == "2026-04-12T16:39:00Z");
}

TEST_CASE("backup without a file is a misuse that says what is missing") {
  StoreOnDisk garden;
  const Reply reply = garden.run("backup");
  CHECK(reply.status == 2);
  CHECK(says(reply.trouble, "backup needs FILE"));
}

}  // namespace
}  // namespace rimeward
