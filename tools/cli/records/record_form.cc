#include "tools/cli/records/record_form.h"

#include <algorithm>
#include <cctype>
#include <utility>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "sensors/escape.h"
#include "sensors/number.h"

namespace rimeward {
namespace {

using nlohmann::json;

constexpr std::array<std::string_view, 10> kNames{"time",  "sensor", "place", "channel",
                                                  "value", "date",   "low",   "low_at",
                                                  "high",  "high_at"};

constexpr std::string_view kForms =
    "a first line names the columns: time, sensor, place, channel, value of readings, or "
    "date, place, low, high of days; or each line is a JSON object with these members";

std::optional<Member> member_named(std::string_view name) {
  const auto found = std::ranges::find(kNames, name);
  if (found == kNames.end()) return std::nullopt;
  return static_cast<Member>(found - kNames.begin());
}

std::string lowered(std::string_view text) {
  std::string result(text);
  for (char& letter : result)
    letter = static_cast<char>(std::tolower(static_cast<unsigned char>(letter)));
  return result;
}

// The fields of one line of CSV, one after the other.
class Fields {
 public:
  Fields(std::string_view line, char separator) : rest_(line), separator_(separator) {}

  bool at_end() const { return at_end_; }

  // Good until the next call. Refuses quotes that are not as RFC 4180 has them.
  Result<std::string_view> next() {
    if (rest_.starts_with('"')) return next_quoted();
    const std::size_t end = std::min(rest_.find(separator_), rest_.size());
    const std::string_view field = rest_.substr(0, end);
    move_past(end);
    return trimmed(field);
  }

 private:
  Result<std::string_view> next_quoted() {
    unquoted_.clear();
    std::size_t at = 1;
    while (true) {
      const std::size_t quote = rest_.find('"', at);
      if (quote == std::string_view::npos) {
        return refuse("a quote opens a field and none closes it");
      }
      unquoted_ += rest_.substr(at, quote - at);
      at = quote + 1;
      if (at == rest_.size() || rest_[at] == separator_) break;
      if (rest_[at] != '"') {
        return refuse(
            "more follows the quote that closes a field; a quote within one is "
            "written twice");
      }
      unquoted_ += '"';
      ++at;
    }
    move_past(at);
    return trimmed(unquoted_);
  }

  void move_past(std::size_t end) {
    at_end_ = end == rest_.size();
    rest_.remove_prefix(std::min(end + 1, rest_.size()));
  }

  std::string_view rest_;
  char separator_;
  bool at_end_ = false;
  std::string unquoted_;
};

// Takes one flat object; everything is text, numbers as they are written.
class ObjectReader final : public json::json_sax_t {
 public:
  explicit ObjectReader(RecordFields& fields) : fields_(fields) {}

  const std::string& trouble() const { return trouble_; }

  bool null() override { return is_inside(); }
  bool boolean(bool /*value*/) override { return wrong("true or false"); }
  bool number_integer(number_integer_t value) override {
    return put(fmt::format("{}", value));
  }
  bool number_unsigned(number_unsigned_t value) override {
    return put(fmt::format("{}", value));
  }
  bool number_float(number_float_t /*value*/, const string_t& text) override {
    return put(text);
  }
  bool string(string_t& text) override { return put(text); }
  bool binary(binary_t& /*bytes*/) override { return wrong("bytes"); }
  bool start_object(std::size_t /*size*/) override {
    if (inside_) return wrong("an object");
    inside_ = true;
    return true;
  }
  bool key(string_t& name) override {
    name_ = name;
    member_ = member_named(name);
    return true;
  }
  bool end_object() override { return true; }
  bool start_array(std::size_t /*size*/) override { return wrong("an array"); }
  bool end_array() override { return true; }
  bool parse_error(std::size_t byte, const std::string& /*token*/,
                   const json::exception& /*fault*/) override {
    return refused(fmt::format("not JSON, from byte {} on", byte));
  }

 private:
  bool is_inside() { return inside_ || refused("no JSON object"); }
  bool put(std::string_view text) {
    if (!is_inside()) return false;
    if (member_) fields_.set(*member_, trimmed(text));
    return true;
  }
  bool wrong(std::string_view what) {
    if (!is_inside()) return false;
    if (!member_ && what == "true or false") return true;
    return refused(
        fmt::format("{}: expected text or a number, got {}", escaped(name_), what));
  }
  bool refused(std::string trouble) {
    trouble_ = std::move(trouble);
    return false;
  }

  RecordFields& fields_;
  std::string trouble_;
  bool inside_ = false;
  std::string name_;
  std::optional<Member> member_;
};

Result<void> read_object(std::string_view line, RecordFields& fields) {
  // The parser takes a NUL for the end and would not look at what follows it.
  if (line.find('\0') != std::string_view::npos) return refuse("not JSON: a NUL in it");
  ObjectReader reader(fields);
  if (json::sax_parse(line, &reader)) return {};
  return refuse(reader.trouble().empty() ? "not JSON" : reader.trouble());
}

bool is_blank(std::string_view line) {
  return line.find_first_not_of(" \t\r\n") == std::string_view::npos;
}

}  // namespace

std::string_view name_of(Member member) {
  return kNames.at(static_cast<std::size_t>(member));
}

bool RecordFields::empty() const {
  return std::ranges::all_of(texts_, &std::string::empty);
}

Result<RecordForm> RecordForm::of(std::string_view first_line, bool place_is_given) {
  RecordForm form;
  if (trimmed(first_line).starts_with('{')) {
    RecordFields fields;
    if (const auto read = read_object(first_line, fields); !read) {
      return tl::unexpected(read.error());
    }
    const bool is_day = fields[Member::kTime].empty() && !fields[Member::kDate].empty();
    form.kind_ = is_day ? RecordKind::kDays : RecordKind::kReadings;
    return form;
  }
  form.separator_ = first_line.find(';') == std::string_view::npos ? ',' : ';';
  Fields names(first_line, *form.separator_);
  while (!names.at_end()) {
    const auto name = names.next();
    if (!name) return tl::unexpected(name.error());
    const auto member = member_named(lowered(*name));
    if (member && std::ranges::find(form.columns_, member) != form.columns_.end()) {
      return refuse(fmt::format("the column {} stands twice", name_of(*member)));
    }
    form.columns_.push_back(member);
    if (!member && !name->empty()) form.passed_over_.emplace_back(*name);
  }
  const auto has = [&form](Member member) {
    return std::ranges::find(form.columns_, member) != form.columns_.end();
  };
  if (!has(Member::kTime) && !has(Member::kDate)) {
    return refuse(fmt::format("no form of records: {}; got \"{}\"", kForms,
                              escaped(first_line, 60)));
  }
  form.kind_ = has(Member::kTime) ? RecordKind::kReadings : RecordKind::kDays;
  if (const auto checked = form.check_columns(place_is_given); !checked) {
    return tl::unexpected(checked.error());
  }
  return form;
}

Result<void> RecordForm::check_columns(bool place_is_given) const {
  const auto has = [this](Member member) {
    return std::ranges::find(columns_, member) != columns_.end();
  };
  if (!place_is_given && !has(Member::kPlace)) {
    return refuse("no column place; add one, or say the place of all with --place P");
  }
  if (kind_ == RecordKind::kDays) {
    if (has(Member::kLow) || has(Member::kHigh)) return {};
    return refuse("no column low and none high: days have at least one");
  }
  for (const Member member : {Member::kSensor, Member::kChannel, Member::kValue}) {
    if (has(member)) continue;
    return refuse(
        fmt::format("no column {}: readings have time, sensor, place, channel "
                    "and value",
                    name_of(member)));
  }
  return {};
}

Result<void> RecordForm::read(std::string_view line, RecordFields& fields) const {
  fields.clear();
  if (is_blank(line)) return {};
  return separator_ ? read_csv(line, fields) : read_object(line, fields);
}

Result<void> RecordForm::read_csv(std::string_view line, RecordFields& fields) const {
  Fields texts(line, *separator_);
  std::size_t count = 0;
  for (; !texts.at_end(); ++count) {
    const auto text = texts.next();
    if (!text) return tl::unexpected(text.error());
    if (count < columns_.size() && columns_[count]) fields.set(*columns_[count], *text);
  }
  if (count != columns_.size()) {
    return refuse(fmt::format("expected {} fields, got {}", columns_.size(), count));
  }
  return {};
}

}  // namespace rimeward
