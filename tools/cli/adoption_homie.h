// The topics of Homie devices among those heard: many topics, one sensor. Pure.

#pragma once

#include <map>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "tools/cli/adoption.h"

namespace rimeward {

class HomieDevices {
 public:
  // Devices are told by what the convention has each of them publish about itself.
  // REQUIRES: `heard` outlives this.
  explicit HomieDevices(std::span<const HeardRow> heard);

  // Whether the topic is below a device's.
  bool has(std::string_view topic) const;

  std::vector<Candidate> candidates() const;

 private:
  std::string_view device_of(std::string_view topic) const;  // empty: of none

  std::map<std::string, std::vector<const HeardRow*>, std::less<>> devices_;  // by topic
};

}  // namespace rimeward
