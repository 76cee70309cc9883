#include "sensors/topic.h"

#include <string>

#include <doctest/doctest.h>

namespace rimeward {
namespace {

using namespace std::string_view_literals;

TEST_CASE("filters match what the MQTT standard's own examples say") {
  struct Row {
    std::string_view filter;
    std::string_view topic;
    bool matches;
  };
  // OASIS MQTT 3.1.1 (2014), sections 4.7.1.2, 4.7.1.3, 4.7.2 and 4.7.3, from memory.
  const Row rows[] = {
      {"sport/tennis/player1/#", "sport/tennis/player1", true},
      {"sport/tennis/player1/#", "sport/tennis/player1/ranking", true},
      {"sport/tennis/player1/#", "sport/tennis/player1/score/wimbledon", true},
      {"sport/#", "sport", true},
      {"#", "sport/tennis/player1", true},
      {"sport/tennis/+", "sport/tennis/player1", true},
      {"sport/tennis/+", "sport/tennis/player2", true},
      {"sport/tennis/+", "sport/tennis/player1/ranking", false},
      {"sport/+", "sport", false},
      {"sport/+", "sport/", true},
      {"+/+", "/finance", true},
      {"/+", "/finance", true},
      {"+", "/finance", false},
      {"+/tennis/#", "sport/tennis", true},
      {"sport/+/player1", "sport/tennis/player1", true},
      {"#", "$SYS/monitor/Clients", false},
      {"+/monitor/Clients", "$SYS/monitor/Clients", false},
      {"$SYS/#", "$SYS/", true},
      {"$SYS/#", "$SYS/monitor/Clients", true},
      {"$SYS/monitor/+", "$SYS/monitor/Clients", true},
      {"ACCOUNTS", "Accounts", false},
      {"Accounts payable", "Accounts payable", true},
  };
  for (const Row& row : rows) {
    CAPTURE(row.filter);
    CAPTURE(row.topic);
    CHECK(is_valid_filter(row.filter));
    CHECK(is_valid_topic(row.topic));
    CHECK(topic_matches(row.filter, row.topic) == row.matches);
  }
}

TEST_CASE("a filter matches level by level, not letter by letter") {
  CHECK_FALSE(topic_matches("garden/#", "gardens/yard"));
  CHECK_FALSE(topic_matches("garden", "garden/yard"));
  CHECK_FALSE(topic_matches("garden/yard", "garden"));
  CHECK_FALSE(topic_matches("garden/+/climate", "garden/climate"));
  CHECK(topic_matches("garden/+/climate", "garden//climate"));
  CHECK(topic_matches("garden/$north", "garden/$north"));
  CHECK(topic_matches("garden/#", "garden/$north"));
}

TEST_CASE("wildcards stand for whole levels, # for the last ones only") {
  // The last three: the counter-examples of sections 4.7.1.2 and 4.7.1.3.
  for (const auto filter : {"#"sv, "+"sv, "+/+/#"sv, "garden/#"sv, "/"sv, "a//b"sv}) {
    CAPTURE(filter);
    CHECK(is_valid_filter(filter));
  }
  for (const auto filter : {""sv, "garden/#/"sv, "#/garden"sv, "garden/++"sv, "a\0b"sv,
                            "sport/tennis#"sv, "sport/tennis/#/ranking"sv, "sport+"sv}) {
    CAPTURE(filter);
    CHECK_FALSE(is_valid_filter(filter));
  }
}

TEST_CASE("a topic has no wildcards, no NUL and at most 65535 bytes") {
  CHECK(is_valid_topic("garden/north-frame/climate"));
  CHECK(is_valid_topic("/"));
  CHECK(is_valid_topic(std::string(65'535, 'a')));
  CHECK_FALSE(is_valid_topic(std::string(65'536, 'a')));
  for (const auto topic : {""sv, "garden/#"sv, "garden/+"sv, "a+b"sv, "a#"sv, "a\0b"sv}) {
    CAPTURE(topic);
    CHECK_FALSE(is_valid_topic(topic));
  }
}

}  // namespace
}  // namespace rimeward
