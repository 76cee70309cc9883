// Lines of the spool: every one that is read can be written and read again to the same,
// and so can every message.
//
// An input is a line; and, to go the other way, a line of the topic, then the payload.

#include <string>
#include <string_view>

#include "daemon/base/arrival.h"
#include "tests/fuzz/demands.h"

using namespace rimeward;

namespace {

bool same(const Arrival& one, const Arrival& other) {
  return one.sequence == other.sequence && one.at == other.at &&
         one.uptime == other.uptime && one.topic == other.topic &&
         one.payload == other.payload && one.payload_bytes == other.payload_bytes &&
         one.qos == other.qos && one.retained == other.retained &&
         one.redelivered == other.redelivered && one.packet_id == other.packet_id;
}

void demand_round_trip(const Arrival& arrival) {
  const std::string line = to_line(arrival);
  fuzz::demand(line.ends_with('\n') && line.find('\n') + 1 == line.size(), "one line");
  const auto again = arrival_from_line(line.substr(0, line.size() - 1));
  fuzz::demand(again.has_value(), "a written line that can be read");
  fuzz::demand(same(*again, arrival), "the message that was written");
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  fuzz::Input input(data, size);
  const auto read = arrival_from_line(input.rest());
  if (read) {
    demand_round_trip(*read);
  } else {
    fuzz::demand_words(read.error().message);
  }
  Arrival arrival;
  arrival.topic = input.line();
  arrival.payload = input.rest();
  arrival.payload_bytes = arrival.payload.size();
  if (!arrival.topic.empty()) demand_round_trip(arrival);
  return 0;
}
