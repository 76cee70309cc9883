// The climate of one place by the hour: the mean of each UTC clock hour as its readings
// come, and sums over hours (degree days, drying demand) that follow each reading at
// once.
//
// All is in integers, so that a sum does not depend on the order in which readings came:
// one that was followed reading by reading equals, to the letter, one that is made anew
// from the stored hours. A reading costs the same whatever it adds to and however long
// that has run.
//
// An hour without a reading between two that have some, at most kBridged such in a row,
// is taken to lie on the straight line between their means; longer gaps count for nothing
// and are missing from Sum::hours. No locking.

#pragma once

#include <array>
#include <chrono>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <map>
#include <optional>
#include <vector>

#include "sensors/channel.h"
#include "sensors/units.h"

namespace rimeward {

// What the readings of one hour come to.
struct HourSum {
  std::int64_t sum = 0;    // of the values, in thousandths
  std::int64_t count = 0;  // of readings
  bool operator==(const HourSum&) const = default;
};

// Rounded half away from zero. REQUIRES: count > 0.
Milli mean_of(const HourSum& hour);

// The means of one hour; absent: not known.
struct HourMeans {
  std::optional<Milli> air{};       // thousandths of a degree C
  std::optional<Milli> humidity{};  // thousandths of a percent
  std::optional<Milli> soil{};      // temperature, as air
};

// What one hour adds to a sum; nothing where its means do not tell.
using HourWorth = std::function<std::optional<std::int64_t>(const HourMeans& means)>;

struct Sum {
  std::int64_t amount = 0;  // in the unit of the HourWorth
  int hours = 0;            // that were known
  bool operator==(const Sum&) const = default;
};

class HourBook {
 public:
  // Hours kept for late readings, and for rules that look back, from the newest on.
  static constexpr std::chrono::hours kKept{72};
  static constexpr std::chrono::hours kBridged{6};

  // Hours of channels other than air temperature, humidity and soil temperature are
  // passed over by all of these. `rank`: of several sensors in one place the one of the
  // lowest rank speaks for an hour that it has readings in.
  void add(Channel channel, std::size_t rank, Instant time, Milli value);
  // Takes a reading out again. REQUIRES: it was added, or its hour was put.
  void remove(Channel channel, std::size_t rank, Instant time, Milli value);
  // An hour as the store has it; to be put before sums are followed.
  void put(Channel channel, std::size_t rank, Instant hour, const HourSum& sum);

  // The means of the hour that begins then, measured or bridged.
  HourMeans means(Instant hour) const;
  // The same of each whole hour from `from` and before `to`, in order, until one is
  // answered with false: a day costs little more than an hour.
  void each(Instant from, Instant to,
            const std::function<bool(const HourMeans&)>& visit) const;
  // True where the hour has readings of the channel, not only bridged ones.
  bool is_measured(Channel channel, Instant hour) const;
  // The newest hour that has a reading of the channel.
  std::optional<Instant> newest(Channel channel) const;

  // Over the hours that begin at `from` or later and before `to`, of those put or added.
  Sum sum(Instant from, Instant to, const HourWorth& worth) const;

  // The same, kept up to date with each reading from now on; its number.
  std::size_t follow(Instant from, Instant to, HourWorth worth);
  Sum followed(std::size_t number) const { return followed_.at(number).sum; }

  // Lets hours go that are older than kKept.
  void forget_old();
  // A reading came for an hour that has gone: the book and its sums are to be made anew
  // from the store once that has it.
  bool is_stale() const { return is_stale_; }

 private:
  // By rank; the first speaks.
  using Voices = std::map<std::size_t, HourSum>;
  using Hours = std::map<Instant, Voices>;
  struct Followed {
    Instant from;
    Instant to;
    HourWorth worth;
    Sum sum;
  };
  enum { kAir, kHumidity, kSoil, kChannels };

  static std::optional<std::size_t> index_of(Channel channel);
  // `next`: the first hour of the map that is not before `hour`.
  static std::optional<Milli> mean_at(const Hours& hours, Hours::const_iterator next,
                                      Instant hour);
  template <class Change>
  void change(std::size_t channel, Instant hour, const Change& change);
  void count(Instant first, Instant last, int sign);

  std::array<Hours, kChannels> hours_;
  std::vector<Followed> followed_;
  std::optional<Instant> newest_;
  bool is_stale_ = false;
};

}  // namespace rimeward
