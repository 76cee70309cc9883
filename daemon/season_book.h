// The season's book-keeping as the daemon follows it: the climate of each place by the
// hour, the batches and what warmth they have had, how dry each place was since it was
// watered, and the keep-above that follows from who lives where. No locking.
//
// What is summed follows each reading at once. A new batch, or a reading for an hour long
// gone, wants sums made anew from the store: they are, right after the commit that has
// it, and until then the batch is not told of.

#pragma once

#include <cstddef>
#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "daemon/base/garden.h"
#include "daemon/base/log.h"
#include "daemon/climate/hour_book.h"
#include "daemon/notice/keep_above.h"
#include "daemon/notice/situation.h"
#include "daemon/store/batch_json.h"
#include "daemon/store/store.h"

namespace rimeward {

class SeasonBook {
 public:
  // Goes on from what the store holds. `garden` must outlive this.
  SeasonBook(const Garden& garden, const Store& store, LogSink log);

  // A believed reading of a sensor of the garden, by its number, and one taken back.
  void add(std::size_t sensor, Channel channel, Instant time, Milli value);
  void remove(std::size_t sensor, Channel channel, Instant time, Milli value);

  // sow, move, finish and water; others are passed over.
  void take(const ActionRow& action, Instant now, Changes& changes);

  // True: sums are to be made anew, by refresh() once the store holds all.
  bool is_stale() const;
  void refresh(const Store& store);

  // Puts what it knows to the places, which are the garden's in its order, and the
  // batches.
  void describe(Situation& situation) const;

  // Of each place, as the terminal is to know it.
  std::vector<KeepAbove> keep_aboves(Instant now) const;

 private:
  // A sum over several places: where it is followed, by the place's number. Empty where
  // the stage that it is counted from was not reached.
  using Parts = std::vector<std::pair<std::size_t, std::size_t>>;
  struct Batch {
    BatchRow row;
    std::vector<StayRow> stays;  // oldest first, in places of the garden
    const Crop* crop = nullptr;
    std::vector<Parts> stages{};  // as the crop's; empty: not summed yet
  };
  struct PlaceBook {
    HourBook hours;
    std::optional<WateringRow> watered{};
    std::optional<std::size_t> dryness{};  // where the sum since then is followed
    std::map<std::size_t, SoilMoisture> moisture{};  // by sensor
  };

  void sow(const BatchWord& word, Instant now, Changes& changes);
  void move(const BatchWord& word, Changes& changes);
  void finish(const BatchWord& word, Changes& changes);
  void stay(Batch& batch, const StayRow& row, Changes& changes);

  std::optional<std::size_t> number_of(std::string_view place) const;
  // The first hour of each place that its sums want from the store.
  std::vector<Instant> wanted_from(std::optional<Instant> newest) const;
  void follow(Batch& batch);
  Parts follow(const Batch& batch, const CropStage& stage, Instant from);
  std::optional<Instant> begin_of(const Batch& batch, const CropStage& stage) const;
  bool has_reached(const Batch& batch, std::string_view stage) const;
  bool waits_for_stage(const Batch& batch) const;
  Sum warmth_of(const Parts& parts) const;
  void follow_dryness(std::size_t place);
  std::optional<BatchView> view_of(const Batch& batch, Instant now) const;

  const Garden& garden_;
  LogSink log_;
  std::vector<std::size_t> place_of_sensor_;
  std::vector<PlaceBook> places_;
  std::map<std::string, Batch> batches_;  // by id; finished ones too
  bool is_stale_ = false;
};

}  // namespace rimeward
