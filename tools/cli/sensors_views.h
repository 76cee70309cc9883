// The two longer answers of `rimeward sensors`: one sensor in detail, and the topics that
// belong to none.

#pragma once

#include "tools/cli/sensors_answer.h"
#include "tools/cli/verb.h"

namespace rimeward {

Reply sensor_in_detail(const Context& context, const SensorHealth& health);
Reply heard_topics(const Context& context);

// "temperature -0.43 °C ± 0.12 °C since 2026-04-12 (ice)".
std::string correction_sentence(const Context& context, const CorrectionRow& row);

}  // namespace rimeward
