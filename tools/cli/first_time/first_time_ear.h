// One listening to the broker: shows each topic once, as it is heard, with what was
// understood of it. One thread.

#pragma once

#include <map>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/base/garden.h"
#include "daemon/heard_line.h"
#include "daemon/store/rows.h"
#include "tools/cli/adoption.h"
#include "tools/cli/first_time/first_time_dialogue.h"

namespace rimeward {

// In one line, what a topic said and is understood as. Pure.
std::string heard_text(const Candidate& candidate, TemperatureUnit unit);

class Ear {
 public:
  // All outlive this.
  Ear(const Dialogue& dialogue, const Garden& garden, Instant now)
      : dialogue_(dialogue), garden_(garden), now_(now) {}
  Ear(const Ear&) = delete;
  Ear& operator=(const Ear&) = delete;

  void begin();
  // A line that rimewardd printed.
  void take(std::string_view line);
  // Shows what is new; waits a little. False: it is to end.
  bool go_on();

  // Shows what came last.
  void finish() { show_new(); }

  bool connected() const { return connected_; }
  bool interrupted() const { return interrupted_; }
  // Why nothing is heard; empty: it is.
  const std::string& trouble() const { return trouble_; }

  // Of all listenings so far, in the order of the topics.
  std::vector<HeardRow> rows() const;

 private:
  void hear(HeardLine line);
  void show_new();

  const Dialogue& dialogue_;
  const Garden& garden_;
  const Instant now_;

  std::map<std::string, HeardRow> rows_;
  std::set<std::string> kept_;   // topics of which only the broker's copy was heard
  std::set<std::string> shown_;  // topics, and those of devices
  bool has_new_ = false;
  bool connected_ = false;
  bool interrupted_ = false;
  std::string trouble_;
};

}  // namespace rimeward
