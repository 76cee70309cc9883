#include "daemon/notice/action_json.h"

#include <algorithm>
#include <array>
#include <chrono>
#include <cstdint>
#include <limits>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/base/text.h"
#include "daemon/notice/notice_kinds.h"
#include "daemon/store/batch_json.h"
#include "daemon/store/mute_word.h"
#include "sensors/escape.h"
#include "sensors/iso_time.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using Json = nlohmann::ordered_json;
using Names = std::vector<std::string_view>;
using Trouble = std::optional<tl::unexpected<Error>>;  // nothing: all is well

// A word of a person's is a line; what is longer is none.
constexpr std::size_t kLongest = 4096;
// A telephone's clock may be a little ahead of the garden's.
constexpr auto kClockAhead = 2min;
constexpr std::chrono::days kLongestAgo{31};  // older ones tell nothing of today
constexpr std::uint64_t kMostLayers = 9;
constexpr std::uint64_t kMostPlants = 1'000'000;

// Of a batch, and what it is written down by (daemon/store/batch_json.h).
const Names kOfBatch{"batch", "crop",  "sown",     "count",
                     "place", "since", "finished", "next_place"};

struct VerbForm {
  std::string_view verb;
  bool in_rehearsal_only;
  Names members;  // besides verb and at
};

const std::vector<VerbForm>& verb_forms() {
  static const std::vector<VerbForm> forms{
      {"cover", false, {"place", "layers"}},
      {"uncover", false, {"place"}},
      {"open", false, {"place"}},
      {"shut", false, {"place"}},
      {"water", false, {"place"}},
      {"done", false, {"notice"}},
      {"mute", false, {"kind", "until", "place"}},
      {"sow", true, {"batch"}},
      {"move", true, {"batch"}},
      {"finish", true, {"batch"}},
  };
  return forms;
}

// As it was said, for "expected ..., got ...".
std::string shown(const Json& value) {
  if (value.is_string()) {
    return fmt::format("\"{}\"", escaped(value.get_ref<const std::string&>()));
  }
  return escaped(value.dump(-1, ' ', false, Json::error_handler_t::replace));
}

tl::unexpected<Error> wrong(std::string_view key, std::string_view expected,
                            const Json& value) {
  return refuse(fmt::format("{}: expected {}, got {}", key, expected, shown(value)));
}

Trouble unknown_member(const Json& object, const Names& known) {
  for (const auto& [key, value] : object.items()) {
    if (std::ranges::find(known, key) != known.end()) continue;
    const std::string meant = did_you_mean(key, known);
    return refuse(fmt::format(
        "unknown member \"{}\"{}", escaped(key),
        meant.empty() ? fmt::format("; known: {}", fmt::join(known, ", ")) : meant));
  }
  return std::nullopt;
}

// Reads the members of one word into an ActionRow; the first that is wrong refuses it.
class Reader {
 public:
  Reader(const Json& word, const Garden& garden, Instant now, Told how)
      : word_(word), garden_(garden), now_(now), how_(how) {}

  Result<ActionRow> read() {
    if (const Trouble trouble = read_verb()) return *trouble;
    if (const Trouble trouble = read_at()) return *trouble;
    for (const std::string_view member : form_->members) {
      if (const Trouble trouble = read_member(member)) return *trouble;
    }
    return std::move(row_);
  }

 private:
  // Null: it is not there.
  const Json* member(std::string_view key) const {
    const auto found = word_.find(key);
    return found == word_.end() ? nullptr : &*found;
  }

  tl::unexpected<Error> missing(std::string_view key, std::string_view remedy) const {
    return refuse(fmt::format("{} without {}; {}", row_.verb, key, remedy));
  }

  Trouble read_verb() {
    Names names;
    for (const VerbForm& form : verb_forms()) {
      if (!form.in_rehearsal_only || how_ == Told::kInRehearsal)
        names.push_back(form.verb);
    }
    const Json* verb = member("verb");
    if (verb == nullptr || !verb->is_string()) {
      return refuse(fmt::format("no verb; say one of {}", fmt::join(names, ", ")));
    }
    row_.verb = verb->get<std::string>();
    const auto form = std::ranges::find(verb_forms(), row_.verb, &VerbForm::verb);
    if (form == verb_forms().end()) {
      return refuse(fmt::format("unknown verb \"{}\"{}; known: {}", escaped(row_.verb),
                                did_you_mean(row_.verb, names), fmt::join(names, ", ")));
    }
    if (form->in_rehearsal_only && how_ != Told::kInRehearsal) {
      return refuse(
          fmt::format("{} is taken in a rehearsal only; say it by `rimeward "
                      "batch` at the terminal",
                      row_.verb));
    }
    form_ = &*form;
    Names known{"verb", "at"};
    known.insert(known.end(), form->members.begin(), form->members.end());
    return unknown_member(word_, known);
  }

  Trouble read_at() {
    const Json* at = member("at");
    row_.at = now_;
    if (at == nullptr && how_ == Told::kInRehearsal) {
      return missing("at", "a rehearsal must know when it was said");
    }
    if (at == nullptr) return std::nullopt;
    const auto time = at->is_string() ? parse_instant(at->get<std::string>())
                                      : std::optional<Instant>();
    if (!time) return wrong("at", "a time such as \"2026-04-12T18:03:00Z\"", *at);
    // Of a rehearsal, the file says what was when.
    if (how_ == Told::kByMessage) {
      if (*time > now_ + kClockAhead) {
        return wrong("at", "a time that has been; set the clock of what sent it", *at);
      }
      if (*time < now_ - kLongestAgo) {
        return wrong("at", "a time of the last 31 days", *at);
      }
    }
    row_.at = std::min(*time, now_);
    return std::nullopt;
  }

  Trouble read_member(std::string_view key) {
    if (key == "place") return read_place();
    if (key == "layers") return read_layers();
    if (key == "notice") return read_notice();
    if (key == "kind") return read_kind();
    if (key == "until") return read_until();
    return read_batch();
  }

  Trouble known_place(const Json& place) const {
    Names ids;
    for (const Place& one : garden_.places)
      ids.push_back(one.id);
    if (!place.is_string()) return wrong("place", "a place's id", place);
    const auto& id = place.get_ref<const std::string&>();
    if (std::ranges::find(ids, id) != ids.end()) return std::nullopt;
    return refuse(fmt::format("place: no place has the id \"{}\"{}", escaped(id),
                              did_you_mean(id, ids)));
  }

  Trouble read_place() {
    const Json* place = member("place");
    const bool is_mute = row_.verb == "mute";
    if (place == nullptr) {
      return is_mute ? Trouble() : missing("place", "say its id");
    }
    if (const Trouble trouble = known_place(*place)) return trouble;
    if (is_mute && is_letter(kind_)) {
      return refuse(fmt::format(
          "place: \"{}\" is about the garden as a whole; leave it out", kind_));
    }
    row_.place = place->get<std::string>();
    return std::nullopt;
  }

  Trouble read_layers() {
    const Json* layers = member("layers");
    row_.layers = 1;
    if (layers == nullptr) return std::nullopt;
    if (!layers->is_number_unsigned() || layers->get<std::uint64_t>() > kMostLayers) {
      return wrong("layers", "a whole number from 0 to 9", *layers);
    }
    row_.layers = layers->get<int>();
    return std::nullopt;
  }

  Trouble read_notice() {
    constexpr auto kMost = std::uint64_t{std::numeric_limits<NoticeId>::max()};
    const Json* notice = member("notice");
    if (notice == nullptr) return missing("notice", "say its number");
    if (!notice->is_number_unsigned() || notice->get<std::uint64_t>() == 0 ||
        notice->get<std::uint64_t>() > kMost) {
      return wrong("notice", "the number of a notice", *notice);
    }
    row_.notice = notice->get<NoticeId>();
    return std::nullopt;
  }

  Trouble read_kind() {
    const Json* kind = member("kind");
    if (kind == nullptr) return missing("kind", "say which kind of notice");
    if (!kind->is_string()) return wrong("kind", "a kind of notice", *kind);
    kind_ = kind->get<std::string>();
    if (std::ranges::find(kNoticeKinds, kind_) != kNoticeKinds.end()) return std::nullopt;
    return refuse(fmt::format("kind: unknown kind of notice \"{}\"; known: {}{}",
                              escaped(kind_), fmt::join(kNoticeKinds, ", "),
                              did_you_mean(kind_, kNoticeKinds)));
  }

  Trouble read_until() {
    const Json* until = member("until");
    if (until == nullptr) return missing("until", "say until when");
    const std::string text = until->is_string() ? until->get<std::string>() : "";
    const Instant since = how_ == Told::kByMessage ? now_ : row_.at;
    const auto time = text == "now" ? since : parse_instant(text);
    if (!time) {
      return wrong("until", "a time such as \"2026-04-20T08:00:00Z\", or \"now\"",
                   *until);
    }
    if (*time < since || (*time == since && text != "now")) {
      return wrong("until", "a time to come, or \"now\" to mute it no longer", *until);
    }
    if (*time > since + kLongestMute) {
      return wrong("until", "a time within a year", *until);
    }
    row_.detail = mute_detail(kind_, *time);
    return std::nullopt;
  }

  Trouble read_batch() {
    const Json* batch = member("batch");
    if (batch == nullptr || !batch->is_object()) return missing("batch", "say which");
    if (Trouble trouble = unknown_member(*batch, kOfBatch)) return trouble;
    const auto count = batch->find("count");
    if (count != batch->end() && count->is_number_unsigned() &&
        count->get<std::uint64_t>() > kMostPlants) {
      return wrong("count", "a number of plants", *count);
    }
    auto word =
        batch_from_json(batch->dump(-1, ' ', false, Json::error_handler_t::replace));
    if (!word) return tl::unexpected(word.error());
    for (const char* key : {"place", "next_place"}) {
      const auto place = batch->find(key);
      if (place == batch->end() || *place == "") continue;
      if (Trouble trouble = known_place(*place)) return trouble;
    }
    if (row_.verb != "finish" && word->place.empty())
      return missing("place", "say its id");
    if (row_.verb == "finish" && !word->batch.finished) {
      return missing("finished", "say on which day");
    }
    if (row_.verb == "sow" && garden_.crops.find(word->batch.crop) == nullptr) {
      const Crop* meant = garden_.crops.nearest(word->batch.crop);
      return refuse(fmt::format(
          "no crop has the id \"{}\"{}", escaped(word->batch.crop),
          meant == nullptr ? "" : fmt::format("; did you mean \"{}\"?", meant->id)));
    }
    if (row_.verb != "finish" && !word->since) word->since = row_.at;
    row_.detail = batch_json(*word);
    return std::nullopt;
  }

  const Json& word_;
  const Garden& garden_;
  const Instant now_;
  const Told how_;
  const VerbForm* form_ = nullptr;
  std::string kind_;
  ActionRow row_;
};

}  // namespace

Result<ActionRow> action_from_json(std::string_view text, const Garden& garden,
                                   Instant now, Told how) {
  if (text.size() > kLongest) {
    return refuse(fmt::format("{} bytes are no word of a gardener's", text.size()));
  }
  const Json word = Json::parse(text, nullptr, /*allow_exceptions=*/false);
  if (!word.is_object()) {
    return refuse(
        "no JSON object, such as {\"verb\": \"cover\", \"place\": "
        "\"north-frame\", \"layers\": 2}");
  }
  return Reader(word, garden, now, how).read();
}

}  // namespace rimeward
