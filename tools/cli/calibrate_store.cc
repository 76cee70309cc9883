#include "tools/cli/calibrate_store.h"

#include <algorithm>
#include <cmath>

#include "tools/cli/sensors_answer.h"

namespace rimeward {
namespace {

double thousandth(double value) {
  return std::round(value * 1000) / 1000 + 0.0;
}

}  // namespace

void put_line(const CorrectionLine& line, CorrectionRow& row) {
  // A thousandth of the unit at a hundred of it.
  row.gain = std::round(line.gain * 100'000) / 100'000;
  row.offset = thousandth(line.offset);
  row.uncertainty = thousandth(line.uncertainty95);
}

void hold_against(const Context& context, const Sensor& sensor, FoundCorrection& found) {
  for (const CorrectionRow& row : context.store.corrections()) {
    if (row.sensor != found.row.sensor || row.channel != found.row.channel) continue;
    if (is_in_force(row)) found.replaces = row;
  }
  const auto limit = largest_sound_offset(found.row.channel, sensor.type);
  if (!limit) return;
  double most = found.row.gain == 1 ? std::abs(found.row.offset) : 0;
  for (const SaidAndTrue& point : points_from_json(found.row.points)) {
    most = std::max(most, std::abs(point.known - point.said));
  }
  if (most > *limit) found.too_far = limit;
}

Decision decide(Session& session, const FoundCorrection& found, const Wish& wish) {
  session.tell(words_for(found, session.context()));
  if (found.too_far) {
    session.tell(doubts_about(found, session.context()));
    if (!wish.anyway) return Decision::kTooFar;
  }
  if (wish.yes) return Decision::kStore;
  const auto answer = session.ask("Store it? [y/N] ");
  if (!answer) return Decision::kNobodyAsked;
  return *answer ? Decision::kStore : Decision::kLeave;
}

}  // namespace rimeward
