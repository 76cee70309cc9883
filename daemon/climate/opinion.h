// An outside opinion of tonight's low, such as a regional forecast, brought to one place:
// corrected by what it was off here, and blended into the place's own outlook by what it
// was worth on earlier nights. Plain values, no locking.
//
// For each moment a Bayesian regression of two coefficients says by how much the low will
// come off the place's own outlook: a constant, and a share of what the opinion says
// beyond that outlook. Both start at nothing and what was learned fades by half a percent
// a night; an opinion that is always off by the same is put right by them. How far the
// low that they make is trusted follows from how it did on earlier nights beside the own
// outlook, from hardly at all to 95 %. A good opinion is trusted after some ten to
// fifteen nights; one that is worth nothing stays at hardly.
//
// Method and constants are this project's own, chosen on three open hourly records
// (Seoul, Newark, Markree) with opinions made of their lows, and measured on others. A
// trusted opinion with errors of 1 K takes half to two thirds off the own outlook's mean
// error. Random, stuck, constant and misplaced ones add less than half a percent to it.

#pragma once

#include <array>
#include <string>
#include <string_view>

#include "daemon/climate/moment.h"
#include "daemon/climate/outlook.h"
#include "sensors/result.h"
#include "sensors/units.h"

namespace rimeward {

// What one moment has learned of an opinion. The sums are over its nights, of kelvins
// beyond the own low; older nights count less.
struct OpinionMerit {
  double nights = 0.0;
  double said = 0.0;
  double said_squared = 0.0;
  double came = 0.0;
  double said_by_came = 0.0;
  // Of the low by the opinion: its squared errors, as a multiple of the own outlook's
  // squared spread, and how many nights that rests on.
  double error = 1.0;
  double error_nights = 6.0;
  double stretch_below = 1.0;  // of its spread, so that a tenth of the nights
  double stretch_above = 1.0;  // lies beyond each side of the range
  double credit = -2.0;        // logarithm of the odds that it beats the own outlook
  bool operator==(const OpinionMerit&) const = default;
};

class Opinion {
 public:
  // The outlook with the opinion in it: low, range and spreads; all else, which the
  // place's own engine learns from, stays. `own` is as the place made it by itself.
  // Before an opinion was seen to be worth something it changes hardly anything. The low
  // stays at or below own.running_low. An opinion far from all that it said before, in
  // another unit perhaps, is not heard.
  Outlook blended(const Outlook& own, Celsius said) const;

  // What came of a night: `own` and `said` as they were given to blended() at the issue.
  void learn(const Outlook& own, Celsius said, Celsius low);

  // Goes on to the last bit. restore() refuses what save() cannot have written.
  std::string save() const;
  static Result<Opinion> restore(std::string_view text);

  bool operator==(const Opinion&) const = default;

 private:
  std::array<OpinionMerit, kMoments.size()> merits_;
};

}  // namespace rimeward
