// counting-client: subscribes and counts what comes, the least that a Paho client can do.
// What the daemon's ingest is measured against (tools/bench/ingest).
//
//   counting-client ADDRESS FILTER QOS COUNT
//
// says "ready" once it is subscribed, and "done" when COUNT messages have come. Exit
// status: 0 all came, 1 could not, 2 misuse.

#include <atomic>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <exception>
#include <future>

#include <mqtt/async_client.h>

namespace {

void count_up_to(const std::string& address, const std::string& filter, int qos,
                 long expected) {
  std::promise<void> all;
  std::atomic<long> count{0};
  mqtt::async_client client(address, "counting-client",
                            mqtt::create_options(MQTTVERSION_3_1_1));
  client.set_message_callback([&](const mqtt::const_message_ptr&) {
    if (++count == expected) all.set_value();
  });
  mqtt::connect_options options;
  options.set_mqtt_version(MQTTVERSION_3_1_1);
  options.set_clean_session(true);
  client.connect(options)->wait();
  client.subscribe(filter, qos)->wait();
  std::puts("ready");
  std::fflush(stdout);
  all.get_future().wait();
  std::puts("done");
  std::fflush(stdout);
  client.disconnect()->wait();
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 5) return 2;
  try {
    count_up_to(argv[1], argv[2], std::atoi(argv[3]), std::atol(argv[4]));
    return EXIT_SUCCESS;
  } catch (const std::exception& error) {
    std::fprintf(stderr, "counting-client: %s\n", error.what());
    return EXIT_FAILURE;
  }
}
