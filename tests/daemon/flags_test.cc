#include "daemon/flags.h"

#include <set>
#include <string>
#include <vector>

#include <doctest/doctest.h>

namespace rimeward {
namespace {

using namespace std::chrono_literals;

tl::expected<Flags, FlagsEnd> read(std::vector<const char*> words) {
  words.insert(words.begin(), "rimewardd");
  return read_flags(static_cast<int>(words.size()), words.data());
}

TEST_CASE("without flags the daemon has its usual settings") {
  const auto flags = read({});
  REQUIRE(flags);
  CHECK(flags->config == "/etc/rimeward/garden.toml");
  CHECK(flags->clock == "system");
  CHECK_FALSE(flags->check);
  CHECK_FALSE(flags->listen.has_value());
}

TEST_CASE("what is listened to is told by flags alone") {
  const auto flags = read({"--listen=30", "--broker=mqtts://b.example.org:8883",
                           "--user=-warden", "--password-file=/p", "--ca-file=/c",
                           "--topics=garden/#", "--topics", "yard/+"});
  REQUIRE(flags);
  CHECK(flags->listen == 30s);
  CHECK(flags->broker.address == "mqtts://b.example.org:8883");
  CHECK(flags->broker.user == "-warden");
  CHECK(flags->broker.password_file == "/p");
  CHECK(flags->broker.ca_file == "/c");
  CHECK(flags->broker.listen == std::vector<std::string>{"garden/#", "yard/+"});
  CHECK(read({"--listen", "5"})->broker.listen == std::vector<std::string>{"#"});
}

TEST_CASE("flags that make no sense are a misuse, with why") {
  struct Misuse {
    std::vector<const char*> words;
    std::string_view says;
  };
  const std::vector<Misuse> misuses{
      {{"--routes"}, "--check"},
      {{"--user", "warden"}, "--listen"},
      {{"--listen", "0"}, "0"},
      {{"--listen", "soon"}, "soon"},
      {{"--listen", "5", "--check"}, "--check"},
      {{"--listen", "5", "--topics", "a/#/b"}, "is no topic filter"},
      {{"--clock", "sundial"}, "sundial"},
      {{"--cheek"}, "--cheek"},
      {{"--listen", "5", "stray"}, "stray"},
  };
  for (const Misuse& misuse : misuses) {
    const auto flags = read(misuse.words);
    REQUIRE_FALSE(flags);
    CAPTURE(flags.error().text);
    CHECK(flags.error().status == 2);
    CHECK(flags.error().text.find(misuse.says) != std::string::npos);
  }
}

TEST_CASE("every flag is explained, and --help and the manual have the same") {
  const auto help = read({"--help"});
  REQUIRE_FALSE(help);
  CHECK(help.error().status == 0);
  std::set<std::string_view> names;
  for (const FlagHelp& flag : all_flags()) {
    CAPTURE(flag.name);
    CHECK(flag.name.starts_with("--"));
    CHECK_FALSE(flag.help.empty());
    CHECK(names.insert(flag.name).second);
    CHECK(help.error().text.find(flag.name) != std::string::npos);
  }
  CHECK(read({"--version"}).error().text == RIMEWARD_VERSION "\n");
}

}  // namespace
}  // namespace rimeward
