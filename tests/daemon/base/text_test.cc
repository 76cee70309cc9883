#include "daemon/base/text.h"

#include <array>

#include <doctest/doctest.h>

namespace rimeward {
namespace {

using namespace std::chrono_literals;

constexpr std::array<std::string_view, 5> kWords{"latitude", "longitude", "name",
                                                 "keep_above", "password_file"};

TEST_CASE("the nearest word is found through the usual slips of a hand") {
  CHECK(nearest("lattitude", kWords) == "latitude");  // one letter too many
  CHECK(nearest("latitde", kWords) == "latitude");    // one too few
  CHECK(nearest("lotitude", kWords) == "latitude");   // a wrong one
  CHECK(nearest("laittude", kWords) == "latitude");   // two swapped
  CHECK(nearest("nmae", kWords) == "name");
  CHECK(nearest("LATITUDE", kWords) == "latitude");
  CHECK(nearest("keep-above", kWords) == "keep_above");
  CHECK(nearest("password", kWords) == "password_file");  // begun, not finished
}

TEST_CASE("a word that is near to nothing gets no suggestion") {
  CHECK_FALSE(nearest("colour", kWords));
  CHECK_FALSE(nearest("x", kWords));
  CHECK_FALSE(nearest("", kWords));
  CHECK_FALSE(nearest("na", kWords));
  CHECK_FALSE(nearest(std::string(10'000, 'n'), kWords));
  CHECK_FALSE(nearest("name", {}));
  CHECK(did_you_mean("colour", kWords).empty());
  CHECK(did_you_mean("nmae", kWords) == "; did you mean \"name\"?");
}

TEST_CASE("durations are read with their unit") {
  CHECK(duration_from_text("500 ms").value() == 500ms);
  CHECK(duration_from_text("10 s").value() == 10s);
  CHECK(duration_from_text("30 min").value() == 30min);
  CHECK(duration_from_text("30min").value() == 30min);
  CHECK(duration_from_text("2 h").value() == 2h);
  CHECK(duration_from_text("1 day").value() == 24h);
  CHECK(duration_from_text("3 days").value() == 72h);
  CHECK(duration_from_text("0 s").value() == 0ms);
}

TEST_CASE("a time of day is two digits, a colon and two digits, and one that there is") {
  CHECK(time_of_day_from_text("00:00") == 0min);
  CHECK(time_of_day_from_text("19:30") == 19h + 30min);
  CHECK(time_of_day_from_text("23:59") == 23h + 59min);
  for (const std::string_view text :
       {"", "9:00", "24:00", "12:60", "12.30", "+1:00", "12:3x", "12:300", " 12:30"}) {
    CAPTURE(text);
    CHECK_FALSE(time_of_day_from_text(text));
  }
}

TEST_CASE("what is no duration is refused with an example of one") {
  for (const std::string_view text :
       {"", "30", "min", "-5 min", "1.5 h", "30 m", "30 min 5 s", " 30 min", "30 min ",
        "1e3 s", "99999999999999999999 s"}) {
    CAPTURE(text);
    CHECK_FALSE(duration_from_text(text));
  }
  CHECK(duration_from_text("30 m").error().message ==
        "expected a duration such as \"30 min\" (ms, s, min, h, day), got \"30 m\"");
  CHECK(duration_from_text("9223372036854775807 days").error().message ==
        "a duration of over a hundred years");
}

TEST_CASE("a duration is written in the largest unit that divides it, and reads back") {
  struct Row {
    std::chrono::milliseconds duration;
    std::string_view text;
  };
  for (const Row& row :
       {Row{0ms, "0 s"}, Row{1500ms, "1500 ms"}, Row{90s, "90 s"}, Row{90min, "90 min"},
        Row{2h, "2 h"}, Row{24h, "1 day"}, Row{48h, "2 days"}, Row{25h, "25 h"}}) {
    CAPTURE(row.text);
    CHECK(text_of(row.duration) == row.text);
    CHECK(duration_from_text(row.text).value() == row.duration);
  }
}

TEST_CASE("a place's name takes an article in a sentence unless it brings its own") {
  CHECK(in_sentence("North frame") == "the north frame");
  CHECK(in_sentence("Glasshouse") == "the glasshouse");
  CHECK(in_sentence("the old frame") == "the old frame");
  CHECK(in_sentence("The old frame") == "the old frame");
  CHECK(in_sentence("Our frame") == "our frame");
  CHECK(in_sentence("Anna's bed") == "Anna's bed");
  CHECK(in_sentence("Anna’s bed") == "Anna’s bed");
  CHECK(in_sentence("Uncle Tom's bed") == "Uncle Tom's bed");
  CHECK(in_sentence("Frame by Anna's shed") == "the frame by Anna's shed");
  CHECK(in_sentence("QX bed") == "the QX bed");
  CHECK(in_sentence("A-frame") == "the A-frame");
  CHECK(in_sentence("3rd bed") == "the 3rd bed");
  CHECK(in_sentence("Theatre bed") == "the theatre bed");
  CHECK(in_sentence("Überdach") == "the Überdach");
  CHECK(in_sentence("").empty());
}

}  // namespace
}  // namespace rimeward
