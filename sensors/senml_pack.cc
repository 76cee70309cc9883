#include "sensors/senml_pack.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <utility>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "sensors/cbor.h"
#include "sensors/decoders.h"
#include "sensors/escape.h"
#include "sensors/json_document.h"
#include "sensors/number.h"

namespace rimeward {
namespace {

using nlohmann::json;

constexpr std::int64_t kVersion = 10;
constexpr std::size_t kLongestText = 256;
constexpr std::string_view kInNames = "-:./_";  // beside letters and digits
constexpr std::string_view kSelfDescribedCbor = "\xd9\xd9\xf7";
// Section 4.5.3: a time below this is counted from now, in either direction.
constexpr double kFirstAbsolute = 268'435'456;  // 2^28 s
constexpr double kEndOfTime = kEndOfInstants.time_since_epoch().count();

// Section 4.3, with the keys that stand for the labels in CBOR.
struct Label {
  std::string_view name;
  std::string_view cbor;
};

constexpr std::array<Label, 15> kLabels{{{"bver", "-1"},
                                         {"bn", "-2"},
                                         {"bt", "-3"},
                                         {"bu", "-4"},
                                         {"bv", "-5"},
                                         {"bs", "-6"},
                                         {"n", "0"},
                                         {"u", "1"},
                                         {"v", "2"},
                                         {"vs", "3"},
                                         {"vb", "4"},
                                         {"s", "5"},
                                         {"t", "6"},
                                         {"ut", "7"},
                                         {"vd", "8"}}};
constexpr std::array<std::string_view, 4> kValues{"v", "vs", "vb", "vd"};

// The base fields in force (section 4.1): of a record or one before it.
struct Base {
  std::string name;
  double time = 0;
  std::string unit;
  std::optional<double> value;
  bool sums = false;
};

bool is_letter_or_digit(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9');
}

bool is_name(std::string_view name) {
  return !name.empty() && name.size() <= kLongestText &&
         is_letter_or_digit(name.front()) && std::ranges::all_of(name, [&](char c) {
           return is_letter_or_digit(c) || kInNames.find(c) != std::string_view::npos;
         });
}

// One record of the pack, field by field. What it reads may be wrong; the first mistake
// stays in `fault`.
class Fields {
 public:
  explicit Fields(const json& record) : record_(record) {}

  bool has(std::string_view label) const { return member(record_, label) != nullptr; }

  std::optional<double> number(std::string_view label) {
    const json* value = member(record_, label);
    if (value == nullptr) return std::nullopt;
    if (value->is_number() && std::isfinite(value->get<double>())) {
      return value->get<double>();
    }
    wrong(label, "a number", *value);
    return std::nullopt;
  }

  std::optional<std::string> text(std::string_view label) {
    const json* value = member(record_, label);
    if (value == nullptr) return std::nullopt;
    if (!value->is_string()) {
      wrong(label, "a text", *value);
    } else if (value->get_ref<const std::string&>().size() > kLongestText) {
      // Each record has a copy of what the base says.
      note(fmt::format("\"{}\": longer than {} bytes", label, kLongestText));
    } else {
      return value->get<std::string>();
    }
    return std::nullopt;
  }

  // "v": nothing, and no mistake, where the sender has no number to give.
  std::optional<double> measured() {
    const json* value = member(record_, "v");
    if (value == nullptr || value->is_null()) return std::nullopt;
    if (value->is_number() && !std::isfinite(value->get<double>())) return std::nullopt;
    return number("v");
  }

  void check_version() {
    const json* version = member(record_, "bver");
    if (version == nullptr) return;
    if (!version->is_number_integer() || *version < 1) {
      wrong("bver", "a version", *version);
    } else if (*version > kVersion) {
      note(fmt::format("version {}: newer than {}, which is understood", shown(*version),
                       kVersion));
    }
  }

  void check_labels() {
    for (const auto& [label, value] : record_.items()) {
      if (!label.ends_with('_')) continue;
      note(fmt::format("\"{}\" must be understood (RFC 8428, section 4.4) and is not",
                       escaped(label)));
    }
  }

  void note(std::string mistake) {
    if (fault_.empty()) fault_ = std::move(mistake);
  }

  const std::string& fault() const { return fault_; }

 private:
  void wrong(std::string_view label, std::string_view wanted, const json& value) {
    note(fmt::format("\"{}\": expected {}, got {}", label, wanted, shown(value)));
  }

  const json& record_;
  std::string fault_;
};

void apply_base(Fields& fields, Base& base) {
  if (auto name = fields.text("bn")) base.name = *std::move(name);
  if (auto unit = fields.text("bu")) base.unit = *std::move(unit);
  base.time = fields.number("bt").value_or(base.time);
  if (const auto value = fields.number("bv")) base.value = value;
  base.sums = base.sums || fields.has("bs");
}

std::string name_of(Fields& fields, const Base& base) {
  std::string name = base.name + fields.text("n").value_or("");
  if (name.empty()) {
    fields.note("no name");
  } else if (!is_name(name)) {
    fields.note(
        fmt::format("\"{}\" is no name (RFC 8428, section 4.5.1)", escaped(name, 80)));
  }
  return name;
}

std::optional<double> value_of(Fields& fields, const Base& base) {
  const auto count = std::ranges::count_if(
      kValues, [&](std::string_view label) { return fields.has(label); });
  if (count > 1) fields.note("more than one value");
  if (count == 0) {
    if (fields.has("s")) return std::nullopt;
    // Section 4.5.4: a missing value counts as 0 where there is a base value.
    if (!base.value && !base.sums) fields.note("no value");
    return base.value;
  }
  const auto own = fields.measured();
  if (!own) return std::nullopt;
  const double value = base.value.value_or(0) + *own;
  if (!std::isfinite(value)) fields.note("a value beyond all range");
  return value;
}

SenmlTime time_of(Fields& fields, double seconds) {
  if (seconds < -kFirstAbsolute || seconds >= kEndOfTime) {
    fields.note(fmt::format("the time {} s is no time", seconds));
    return {};
  }
  if (seconds < kFirstAbsolute) {
    return {.at = {}, .ago = std::chrono::milliseconds{std::llround(-seconds * 1000)}};
  }
  const auto whole = static_cast<std::int64_t>(std::floor(seconds));
  return {.at = Instant{std::chrono::seconds{whole}}, .ago = {}};
}

// A record with the time that it is put in order by.
struct Timed {
  double seconds;
  SenmlRecord record;
};

Result<Timed> resolved(const json& record, std::size_t number, Base& base) {
  if (!record.is_object()) {
    return refuse(
        fmt::format("record {}: expected an object, got {}", number, shown(record)));
  }
  Fields fields(record);
  fields.check_version();
  fields.check_labels();
  apply_base(fields, base);
  const double seconds = base.time + fields.number("t").value_or(0);
  SenmlRecord whole{.name = name_of(fields, base),
                    .unit = fields.text("u").value_or(base.unit),
                    .value = value_of(fields, base),
                    .time = time_of(fields, seconds)};
  if (!fields.fault().empty()) {
    return refuse(fmt::format("record {}: {}", number, fields.fault()));
  }
  return Timed{seconds, std::move(whole)};
}

// The labels in the place of the keys that stand for them in CBOR.
json with_labels(const json& record) {
  if (!record.is_object()) return record;
  json labelled = json::object();
  for (const auto& [key, value] : record.items()) {
    const auto found = std::ranges::find(kLabels, key, &Label::cbor);
    labelled.emplace(found == kLabels.end() ? key : std::string(found->name), value);
  }
  return labelled;
}

Result<json> labelled(Result<json> pack) {
  if (!pack || !pack->is_array()) return pack;
  for (json& record : *pack)
    record = with_labels(record);
  return pack;
}

Result<json> document_of(std::string_view payload) {
  if (trimmed(payload.substr(0, 100)).starts_with('[')) return parsed_json(payload);
  const unsigned first = static_cast<unsigned char>(payload.front());
  if ((first >= 0x80 && first <= 0x9f) || payload.starts_with(kSelfDescribedCbor)) {
    return labelled(parsed_cbor(payload));
  }
  return refuse("begins neither as a JSON nor as a CBOR array");
}

}  // namespace

Result<std::vector<SenmlRecord>> resolved_senml(std::string_view payload) {
  if (const auto fits = payload_fits(payload); !fits) {
    return refuse(fits.error().message);
  }
  const Result<json> pack = document_of(payload);
  if (!pack) return tl::unexpected(pack.error());
  if (!pack->is_array())
    return refuse("expected an array of records, got " + shown(*pack));
  Base base;
  std::vector<Timed> timed;
  timed.reserve(pack->size());
  for (const json& record : *pack) {
    auto one = resolved(record, timed.size() + 1, base);
    if (!one) return tl::unexpected(one.error());
    timed.push_back(*std::move(one));
  }
  std::ranges::stable_sort(timed, {}, &Timed::seconds);
  std::vector<SenmlRecord> records;
  records.reserve(timed.size());
  for (Timed& one : timed)
    records.push_back(std::move(one.record));
  return records;
}

}  // namespace rimeward
