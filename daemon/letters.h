// The letters: a morning summary and a Sunday letter, at the hours that the settings
// give. They ask for nothing; they tell how the outlooks did, the highs and lows, what is
// due.
//
// A letter is noted as due at a look, and written right after the next commit, from what
// the store then holds of days and nights that are over: so it says the same whether the
// daemon ran, was killed in between, or the whole is rehearsed. No locking.

#pragma once

#include <chrono>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/base/garden.h"
#include "daemon/base/week_chart.h"
#include "daemon/base/zone.h"
#include "daemon/notice/notice_kinds.h"
#include "daemon/notice/wording.h"
#include "daemon/store/store.h"

namespace rimeward {

// To be told by Keeper::announce().
struct WrittenLetter {
  std::string kind;  // kMorningLetter or kSundayLetter
  std::string title;
  std::string body;   // paragraphs and tables, as daemon/post/job.h has them
  Instant at{};       // when it was due
  Instant ends_at{};  // after which it is of no use
};

class Letters {
 public:
  // Goes on from what the store holds. All else must outlive this.
  Letters(const Garden& garden, const Zone& zone, const Wording& wording,
          const Store& store);

  // Notes what has become due by `at`. To be called at every look, in order of time. A
  // letter that was never asked for before is first due at an hour that is not over by
  // then, which goes into `changes`.
  void look(Instant at, Changes& changes);
  bool is_due() const { return !due_.empty(); }

  // Writes what is due, and notes in `changes` that it is written. To be called right
  // after a commit. What is past its end is left out.
  std::vector<WrittenLetter> write(const Store& store, Instant now, Changes& changes);

 private:
  struct Due {
    std::string_view kind;
    Instant at{};
    Instant ends_at{};
  };
  std::optional<Due> newest(std::string_view kind, Instant at) const;
  std::optional<Due> on(std::string_view kind, std::chrono::year_month_day date) const;

  const Garden& garden_;
  const Zone& zone_;
  const Wording& wording_;
  // By kind, the hour of the newest letter that was noted or is past.
  std::map<std::string_view, Instant> past_;
  std::vector<Due> due_;
};

// The seven climatological days that were over by `at`, of each place that has readings
// in them. A day is named by the weekday on which it begins.
WeekChart week_chart(const Store& store, const Garden& garden, const Zone& zone,
                     const Wording& wording, Instant at);

}  // namespace rimeward
