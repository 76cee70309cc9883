// What a line of records means, and whether it can be: places and channels that there
// are, times that have been, values that a channel can have. Pure.

#pragma once

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <utility>

#include "daemon/base/garden.h"
#include "daemon/base/zone.h"
#include "daemon/store/rows.h"
#include "sensors/number.h"
#include "sensors/result.h"
#include "tools/cli/records/record_form.h"

namespace rimeward {

// One reading; the texts are good as long as the fields and the garden.
struct ReadingRecord {
  Instant time;
  std::string_view sensor;
  std::string_view place;  // its id
  Channel channel;
  Milli value;
};

// How a file is to be read.
struct RecordTerms {
  const Garden& garden;
  DayGrid grid;
  Instant now;
  const Place* place = nullptr;  // of lines that name none; null: each must
  bool in_fahrenheit = false;    // its temperatures
  bool decimal_comma = false;    // "-1,5" is a number
};

class RecordChecks {
 public:
  explicit RecordChecks(RecordTerms terms) : terms_(std::move(terms)) {}

  // Nothing for a line without anything in it. Each refusal names the member and what
  // would do.
  Result<std::optional<ReadingRecord>> reading(const RecordFields& fields);
  // Nothing for a line without a low and a high, as of a day that was not looked.
  Result<std::optional<NotedDayRow>> day(const RecordFields& fields);

 private:
  Result<std::string_view> place_of(std::string_view word);
  Result<Milli> value_of(Member member, std::string_view text, Channel channel) const;
  LeadingNumber number_in(std::string_view text) const;
  Result<Instant> time_of(Member member, std::string_view text) const;
  Result<std::chrono::sys_days> date_of(std::string_view text) const;
  Result<std::optional<Instant>> extreme_at(Member member, std::string_view text,
                                            std::chrono::sys_days date) const;

  RecordTerms terms_;
  std::map<std::string, std::string_view, std::less<>> places_;  // ids, by what was said
};

}  // namespace rimeward
