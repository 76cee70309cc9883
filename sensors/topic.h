// MQTT topics and the filters that select them: OASIS MQTT 3.1.1, section 4.7. Pure.

#pragma once

#include <string_view>

namespace rimeward {

// A topic that a message may be published to: 1 to 65,535 bytes without wildcards or NUL.
bool is_valid_topic(std::string_view topic);

// A filter to subscribe to: as a topic, but a whole level may be "+" (any one level) and
// the last may be "#" (any number of levels, also none).
bool is_valid_filter(std::string_view filter);

// Whether a subscription to `filter` receives what is published to `topic`. A filter that
// begins with a wildcard receives nothing of the broker's own topics, which begin with $.
// REQUIRES: both are valid.
bool topic_matches(std::string_view filter, std::string_view topic);

}  // namespace rimeward
