// A notice rule: what it looks at, what it answers, and the table of all rules.
//
// A rule is a pure function of a Situation. It keeps no memory: what has stood how long,
// what was told and what was answered is the business of lifecycle.h. To add one: write
// daemon/notice/rule_<name>.cc and add its line to daemon/notice/rules.def.

#pragma once

#include <chrono>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/notice/situation.h"

namespace rimeward {

// That a matter stands, at one moment. A subject of which a rule says nothing is well.
struct Finding {
  // The place's id, or the sensor's where it is about one, or "the garden".
  std::string subject;
  std::string place;
  // True: past the threshold that raises a notice. False: between that and the one that
  // ends it, which only keeps an open notice open.
  bool holds = false;
  // The rule's own scale. A notice speaks again when it has grown by 1 or more.
  double urgency = 0;
  int layers = 0;
  std::optional<Instant> deadline;    // by when to act
  std::optional<Instant> send_until;  // later than this it is no use to tell it
  std::optional<Instant> ends_at;     // when the notice lapses whatever happens
  std::string title;
  std::string body;
};

struct NoticeTiming {
  std::chrono::seconds raise_after;  // how long a matter stands before it is raised
  std::chrono::seconds clear_after;  // how long it is gone before the notice lapses
};

struct Rule {
  std::string_view kind;
  // Looked at when the time is a multiple of this. What rests on whole hours needs no
  // look at each reading.
  std::chrono::minutes every;
  NoticeTiming timing;
  // True: the words of an open notice follow the situation quietly, without being told.
  bool follows;
  // The kind whose open notice on the same place this one takes over, or empty.
  std::string_view takes_over;
  // True: one notice until its end. What comes back before that is the same notice again,
  // and told again only where it is worse than what was told.
  bool is_one;
  // How long before its deadline it is told once more; zero: never.
  std::chrono::minutes remind_before;
  std::vector<Finding> (*find)(const Situation& situation);
};

// In the order in which they are looked at.
std::span<const Rule> all_rules();

// What a rule that looks at each place, or sensor, by itself finds in all of them.
std::vector<Finding> find_by_place(
    const Situation& situation,
    std::optional<Finding> (*find)(const Situation& situation, const PlaceView& view));
std::vector<Finding> find_by_sensor(
    const Situation& situation,
    std::optional<Finding> (*find)(const Situation& situation, const SensorView& view));

// A place of the garden as it is seen; null where it has none of that id.
const PlaceView* view_of(const Situation& situation, std::string_view id);
// What people call a place of the garden; the id itself where it is none.
std::string_view place_name(const Situation& situation, std::string_view id);

#define RULE(kind, every, raise_after, clear_after, follows, takes_over, is_one, \
             remind_before)                                                      \
  std::vector<Finding> find_##kind(const Situation& situation);
#include "daemon/notice/rules.def"
#undef RULE

}  // namespace rimeward
