// The Hochfeld garden with a few crops and years of hourly air, for tests of the verbs
// that keep the season's books. Formulas, so that every sum can be reckoned by hand.

#pragma once

#include <functional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "daemon/base/crop.h"
#include "daemon/store/batch_json.h"
#include "daemon/store/marks.h"
#include "tests/support/sample_store.h"
#include "tests/tools/cli_run.h"

namespace rimeward::testing {

// chilli: emergence 100 above 10 C, then from there 200 more above 8 C, at most 26 C, to
// transplanting. lettuce: emergence 50 above 3 C. thyme: no stages.
inline CropTable few_crops() {
  Crop chilli{.id = "chilli", .name = "chilli", .plural = "chillies"};
  chilli.base = Celsius{10};
  chilli.keep_above = Celsius{9};
  chilli.stages = {{.name = "emergence", .heat_sum = 100, .base = Celsius{10}},
                   {.name = "transplanting",
                    .heat_sum = 200,
                    .base = Celsius{8},
                    .upper = Celsius{26},
                    .after = "emergence"}};
  Crop lettuce{.id = "lettuce",
               .name = "lettuce",
               .tenderness = Tenderness::kHalfHardy,
               .plural = "lettuces",
               .other_names = {"salad"}};
  lettuce.base = Celsius{3};
  lettuce.stages = {{.name = "emergence", .heat_sum = 50, .base = Celsius{3}}};
  Crop thyme{.id = "thyme",
             .name = "thyme",
             .tenderness = Tenderness::kHardy,
             .plural = "thyme"};
  thyme.base = Celsius{4};
  Crop corn{.id = "sweet-corn", .name = "sweet corn", .plural = "sweet corn"};
  corn.base = Celsius{10};
  return CropTable({chilli, lettuce, thyme, corn});
}

class SeasonGarden {
 public:
  // At sample_evening(), 12 April 2026, 18:40 in the garden.
  SeasonGarden() {
    garden_.crops = few_crops();
    store_.set_days(DayGrid(sample_zone(), std::chrono::hours{9}));
    Changes changes;
    changes.now = now_;
    changes.series = {{kGlass, "glass-probe", "glasshouse", Channel::kAirTemperature},
                      {kNorth, "north-probe", "north-frame", Channel::kAirTemperature}};
    changes.marks[kMarkNow] = now_.time_since_epoch().count();
    store_.commit(changes);
  }

  static constexpr SeriesId kGlass = 1;
  static constexpr SeriesId kNorth = 2;

  // A reading at the middle of each hour, from `from` until now.
  void air(SeriesId series, Instant from, const std::function<double(Instant)>& value) {
    Changes changes;
    changes.now = now_;
    for (Instant at = from + std::chrono::minutes{30}; at <= now_;
         at += std::chrono::hours{1}) {
      changes.readings.push_back({at, series, to_milli(value(at))});
    }
    store_.commit(changes);
  }

  // As from a gardener's notebook.
  void note(NotedDayRow row) {
    Changes changes;
    changes.now = now_;
    changes.noted_days.push_back(std::move(row));
    store_.commit(changes);
  }

  Reply run(const std::string& command) { return run_words(words_of(command)); }
  Reply run_words(const std::vector<std::string>& words) {
    return run_client_on(store_, garden_, words, {.screen = screen_, .now = now_});
  }

  // Writes into the tables what waits to be taken, as the daemon does.
  void take_actions() {
    Changes changes;
    changes.now = now_;
    const std::int64_t taken = store_.mark(kMarkAction).value_or(0);
    for (const ActionRow& action : store_.actions_after(taken)) {
      const BatchWord word = batch_from_json(action.detail).value();
      changes.batches[word.batch.id] = word.batch;
      if (word.since) changes.stays.push_back({word.batch.id, *word.since, word.place});
      changes.marks[kMarkAction] = action.id;
      store_.commit(changes);
      changes.stays.clear();
    }
  }

  std::vector<ActionRow> actions() { return store_.actions_after(0); }
  void wait(std::chrono::seconds span) { now_ += span; }
  void width(std::size_t columns) { screen_.width = columns; }
  Garden& garden() { return garden_; }
  Instant now() const { return now_; }

 private:
  Instant now_ = sample_evening();
  Screen screen_{.width = 80, .colour = false, .utf8 = true};
  Garden garden_ = sample_garden();
  Store store_ = Store::in_memory();
};

}  // namespace rimeward::testing
