// The forms that records are written in, and a line of them taken apart. Pure.
//
// Readings or days, as CSV (RFC 4180; `;` between the fields where the first line has
// one) or JSON lines (an object a line). Which, the first line tells: the names of the
// columns, in any order, or an object's members. What a member means, record_checks.h
// knows.

#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sensors/result.h"

namespace rimeward {

enum class RecordKind { kReadings, kDays };

enum class Member : std::uint8_t {
  kTime,
  kSensor,
  kPlace,
  kChannel,
  kValue,
  kDate,
  kLow,
  kLowAt,
  kHigh,
  kHighAt,
};

std::string_view name_of(Member member);  // "low_at"

// What one line says, by member, without blanks at either end; empty: not said.
class RecordFields {
 public:
  std::string_view operator[](Member member) const { return texts_[index(member)]; }
  void set(Member member, std::string_view text) { texts_[index(member)] = text; }
  void clear() {
    for (std::string& text : texts_)
      text.clear();
  }
  bool empty() const;

 private:
  static constexpr std::size_t kMembers = 10;
  static std::size_t index(Member member) { return static_cast<std::size_t>(member); }

  std::array<std::string, kMembers> texts_;
};

class RecordForm {
 public:
  // By the first line of a file. Refuses one that tells no form, a column that stands
  // twice, and readings or days without a column that they must have; `place_is_given`:
  // outside the file.
  static Result<RecordForm> of(std::string_view first_line, bool place_is_given);

  RecordKind kind() const { return kind_; }
  // Between the fields of a line of CSV; absent: JSON lines, and the first line is one.
  std::optional<char> separator() const { return separator_; }
  // Columns that say nothing that is kept.
  const std::vector<std::string>& passed_over() const { return passed_over_; }

  // Refuses a line that is none of the form. A line without anything in it has empty
  // fields.
  Result<void> read(std::string_view line, RecordFields& fields) const;

 private:
  Result<void> read_csv(std::string_view line, RecordFields& fields) const;
  Result<void> check_columns(bool place_is_given) const;

  RecordKind kind_ = RecordKind::kReadings;
  std::optional<char> separator_;
  std::vector<std::optional<Member>> columns_;
  std::vector<std::string> passed_over_;
};

}  // namespace rimeward
