#include "tools/cli/first_time/first_time_file.h"

#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>

#include <doctest/doctest.h>
#include <sys/stat.h>
#include <unistd.h>

#include "tests/support/scratch_folder.h"

namespace rimeward {
namespace {

namespace fs = std::filesystem;

std::string text_of(const fs::path& file) {
  std::ifstream stream(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(stream), {}};
}

TEST_CASE("a machine's zone is read from what it is set by, and UTC is none") {
  CHECK(zone_named_in("Europe/Berlin") == "Europe/Berlin");
  CHECK(zone_named_in(":Europe/Berlin\n") == "Europe/Berlin");
  CHECK(zone_named_in("/usr/share/zoneinfo/America/New_York") == "America/New_York");
  for (const char* text : {"", "CET-1CEST,M3.5.0,M10.5.0/3", "Etc/UTC", "UTC",
                           "/usr/share/zoneinfo/Etc/UTC", "Europe/Berln", "zoneinfo/"}) {
    CAPTURE(text);
    CHECK(zone_named_in(text).empty());
  }
}

TEST_CASE("a new file and its folders can be read by the daemon, whatever the umask") {
  const ScratchFolder folder;
  const fs::path file = folder / "etc" / "rimeward" / "garden.toml";
  const mode_t before = umask(077);
  const auto written = write_new(file, "text\n");
  umask(before);
  REQUIRE(written);
  CHECK(text_of(file) == "text\n");
  CHECK((fs::status(file).permissions() & fs::perms::all) == fs::perms(0644));
  CHECK((fs::status(folder / "etc").permissions() & fs::perms::all) == fs::perms(0755));
  CHECK((fs::status(file.parent_path()).permissions() & fs::perms::all) ==
        fs::perms(0755));
}

TEST_CASE("a new file takes the place of nothing") {
  const ScratchFolder folder;
  std::ofstream(folder / "file") << "mine";
  fs::create_symlink(folder / "nowhere", folder / "link");
  for (const fs::path& there : {folder / "file", folder / "link", folder.path()}) {
    CAPTURE(there);
    const auto written = write_new(there, "theirs");
    REQUIRE_FALSE(written);
    CHECK(written.error().message.find("there already") != std::string::npos);
  }
  CHECK(text_of(folder / "file") == "mine");
  CHECK_FALSE(fs::exists(folder / "nowhere"));
  CHECK_FALSE(write_new(folder / "file" / "garden.toml", "theirs"));
}

TEST_CASE("what cannot be written is told before anything is asked") {
  const ScratchFolder folder;
  CHECK_FALSE(trouble_with_new(folder / "deep" / "down" / "garden.toml").has_value());
  CHECK_FALSE(trouble_with_new("garden.toml").has_value());
  std::ofstream(folder / "file") << "mine";
  const auto no_folder = trouble_with_new(folder / "file" / "garden.toml");
  REQUIRE(no_folder);
  CHECK(no_folder->find("is no folder") != std::string::npos);
  // Root may write anywhere but where the kernel keeps its own.
  const auto refused = trouble_with_new("/proc/garden.toml");
  if (geteuid() != 0) {
    REQUIRE(refused);
    CHECK(refused->find("run it with sudo") != std::string::npos);
  }
  const auto failed = write_new("/proc/garden.toml", "text");
  CHECK_FALSE(failed);
}

}  // namespace
}  // namespace rimeward
