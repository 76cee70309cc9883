#include "tools/cli/record.h"

#include <doctest/doctest.h>

#include "daemon/climate/moment.h"
#include "daemon/store/store.h"

namespace rimeward {
namespace {

constexpr std::chrono::sys_days kTonight{std::chrono::year{2026} / 4 / 13};

Place frame() {
  Place place;
  place.id = place.name = "north-frame";
  place.keep_above = Celsius{0};
  place.act_at = Odds{0.2};
  return place;
}

OutlookRow forecast(int days_ago, Moment moment, double low) {
  OutlookRow row;
  row.place = "north-frame";
  row.night = kTonight - std::chrono::days{days_ago};
  row.moment = static_cast<int>(moment);
  row.low = Celsius{low};
  row.low10 = Celsius{low - 1};
  row.low90 = Celsius{low + 1};
  row.spread_below = row.spread_above = 1 / 1.2816;
  return row;
}

NightRow came(int days_ago, double low) {
  NightRow row;
  row.place = "north-frame";
  row.night = kTonight - std::chrono::days{days_ago};
  row.low = Celsius{low};
  return row;
}

Store store_with(std::vector<OutlookRow> outlooks, std::vector<NightRow> nights) {
  Store store = Store::in_memory();
  Changes changes;
  changes.outlooks = std::move(outlooks);
  changes.nights = std::move(nights);
  store.commit(changes);
  return store;
}

}  // namespace

TEST_CASE("the record is of the last 30 nights' dusk outlooks that have a low") {
  const Store store =
      store_with({forecast(31, Moment::kDusk, 9),  // too long ago
                  forecast(30, Moment::kDusk, 3), forecast(2, Moment::kDusk, -1),
                  forecast(2, Moment::kLate, 9),  // not at dusk
                  forecast(1, Moment::kDusk, 2),  // no low is known
                  forecast(0, Moment::kDusk, 9)},
                 {came(31, 0), came(30, 2.5), came(2, -3), came(0, 0)});
  const OutlookScores scores = record_of(store, frame(), kTonight);
  CHECK(scores.nights == 2);
  CHECK(scores.mean_absolute_error->degrees == doctest::Approx(1.25));
  CHECK(scores.bias->degrees == doctest::Approx(1.25));
  CHECK(scores.share_in_range == 0.5);
  CHECK(scores.calls == YesNoTable{.caught = 1, .quiet = 1});
}

TEST_CASE("a covered night counts by what it would have come to without the cover") {
  NightRow covered = came(2, 1.0);
  covered.layers = 2;
  covered.lift = 2.5;
  NightRow changed = came(1, 4.0);
  changed.layers.reset();
  const Store store =
      store_with({forecast(2, Moment::kDusk, -1), forecast(1, Moment::kDusk, -1)},
                 {covered, changed});
  const OutlookScores scores = record_of(store, frame(), kTonight);
  CHECK(scores.nights == 1);
  CHECK(scores.mean_absolute_error->degrees == doctest::Approx(0.5));
  CHECK(scores.calls == YesNoTable{.caught = 1});
}

TEST_CASE("a place that needs no warmth has errors and ranges, and no calls") {
  const Store store = store_with({forecast(1, Moment::kDusk, -5)}, {came(1, -5)});
  Place place = frame();
  place.keep_above.reset();
  const OutlookScores scores = record_of(store, place, kTonight);
  CHECK(scores.nights == 1);
  CHECK(scores.mean_absolute_error->degrees == 0.0);
  CHECK(scores.calls == YesNoTable{});
}

}  // namespace rimeward
