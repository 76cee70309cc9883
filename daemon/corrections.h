// The corrections of the garden's sensors: what was found in a check, applied to what the
// sensor says from then on. A reading keeps the correction of its date: it is stored
// corrected, and later corrections do not touch it. No locking.

#pragma once

#include <map>
#include <string>
#include <utility>
#include <vector>

#include "daemon/store/store.h"

namespace rimeward {

class Corrections {
 public:
  explicit Corrections(const Store& store);

  // What the sensor's word comes to by the correction in force at that time.
  double corrected(const std::string& sensor, Channel channel, Instant at,
                   double said) const;

  // In force from `now` on, in the place of the one before. The row's own id, since and
  // until are passed over.
  void add(CorrectionRow row, Instant now, Changes& changes);

  // Ends a correction that is in force; the one that it had replaced is in force again.
  // False: there is none of that id in force.
  bool undo(CorrectionId id, Instant now, Changes& changes);

 private:
  using Key = std::pair<std::string, Channel>;  // of a sensor
  void put(const CorrectionRow& row, Changes& changes);

  std::map<Key, std::vector<CorrectionRow>> rows_;  // oldest first
  CorrectionId last_id_ = 0;
};

}  // namespace rimeward
