// What a verb of the terminal client is, and what it may use.
//
// To add one: write tools/cli/verb_<name>.cc, which defines describe_<name>(), and add
// its line to tools/cli/verbs.def. A verb builds a plain answer from the store, then
// renders it as text, JSON or CSV; it prints nothing itself and reads no clock. One that
// takes its time tells how it goes through the Conversation.

#pragma once

#include <chrono>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "daemon/base/garden.h"
#include "daemon/base/zone.h"
#include "daemon/store/store.h"
#include "sensors/units.h"
#include "tools/cli/screen.h"

namespace rimeward {

enum class Format { kText, kJson, kCsv };

// How far a verb that takes its time has come.
struct Progress {
  std::string_view doing;                // "reading april.csv"
  std::uint64_t done = 0;                // bytes or rows, whichever `total` counts
  std::optional<std::uint64_t> total{};  // absent: not known
  std::uint64_t rows = 0;                // so far: the rate is told in these
};

// How a verb that takes its time speaks with the person in front of it.
struct Conversation {
  // Shows lines at once, before the reply; each with its newline.
  std::function<void(std::string_view lines)> tell;
  // What was typed, without its newline; nothing where nobody is there to answer, and
  // when interrupted.
  std::function<std::optional<std::string>(std::string_view question)> ask;
  // Waits, and then says the system's time; nothing when interrupted.
  std::function<std::optional<Instant>(std::chrono::seconds span)> wait;
  // Puts a piece of a long answer to stdout, before the reply. Throws std::system_error
  // when it cannot be written.
  std::function<void(std::string_view piece)> write;
  // Shows how far it is, on stderr, where that is a terminal; may be called for each row.
  std::function<void(const Progress& progress)> progress;
};

// What every verb is given.
struct Surroundings {
  std::filesystem::path config_file = "/etc/rimeward/garden.toml";
  std::optional<std::filesystem::path> store_file;  // absent: as the config says
  Format format = Format::kText;
  Screen screen;
  Instant system_now;
  // Null: there is nobody to wait with; a verb answers at once. Outlives the call.
  const Conversation* conversation = nullptr;
};

// What a verb about the garden is given besides. All outlive the call.
struct Context {
  const Surroundings& around;
  const Garden& garden;
  const Zone& zone;
  Store& store;
  // The garden's clock: the system's, or that of the newest reading where the garden is
  // played or rehearsed.
  Instant now;
  bool clock_from_readings = false;
};

// What a shell's completion offers for a parameter's value.
enum class Offers {
  kNothing,
  kPlaces,
  kSensors,
  kBatches,  // those not finished
  kCrops,
  kCropsOrBatches,  // crops where the verb's step is "add", else batches
  kNotices,         // the ids of the open ones
  kKinds,           // of notices
  kFiles,
  kDays,   // today, yesterday, last week
  kWords,  // those of Parameter::words
};

// One option or argument that a verb takes.
struct Parameter {
  std::string_view name;   // "--days", or "PLACE" for one told by where it stands
  std::string_view value;  // "N": what follows an option; empty: a switch
  std::string_view help;
  bool required = false;
  Offers offers = Offers::kNothing;
  std::string_view words = {};  // kWords: with a space between two
  // Of an argument that comes last: every word that is left, with a space between two.
  bool takes_rest = false;
  // Of a verb with steps, such as batch: the steps that it goes with, with a space
  // between two; empty: all.
  std::string_view goes_with = {};
};

// Whether it can be given with that step of its verb.
bool goes_with(const Parameter& parameter, std::string_view step);

// The words of a command line, by the names of the verb's parameters.
class Arguments {
 public:
  void set(std::string name, std::string value) {
    values_.insert_or_assign(std::move(name), std::move(value));
  }
  bool given(std::string_view name) const { return values_.contains(name); }
  // Nothing when not given. Good as long as the Arguments.
  std::optional<std::string_view> text(std::string_view name) const {
    const auto found = values_.find(name);
    if (found == values_.end()) return std::nullopt;
    return found->second;
  }

 private:
  std::map<std::string, std::string, std::less<>> values_;
};

// What the program says and how it ends: 0 done, 1 could not, 2 misused.
struct Reply {
  int status = 0;
  std::string text;     // for stdout, with its last newline
  std::string trouble;  // for stderr: one line or more, without the last newline
};

Reply said(std::string text);
Reply could_not(std::string trouble);
Reply misused(std::string trouble);

struct VerbDetails {
  std::string_view teaching;  // for --help: what it answers, with an example
  std::span<const Parameter> parameters;
  bool tabular = false;      // offers --csv
  bool writes = false;       // opens the store for writing
  bool knows_crops = false;  // Context::garden has the crop table
  // One of the two is set: about a garden and its store, or for the verb that opens
  // itself what it needs.
  Reply (*answer)(const Context& context, const Arguments& arguments) = nullptr;
  Reply (*answer_alone)(const Surroundings& around, const Arguments& arguments) = nullptr;
};

struct Verb {
  std::string_view name;
  std::string_view help;   // one line
  std::string_view group;  // what the gardener does with it and its like: "Look:"
  VerbDetails details;
};

// In the order of verbs.def, so that those of a group stand together.
std::span<const Verb> all_verbs();
const Verb* find_verb(std::string_view name);  // nullptr: none of that name

#define VERB(name, help) VerbDetails describe_##name();
#include "tools/cli/verbs.def"
#undef VERB

}  // namespace rimeward
