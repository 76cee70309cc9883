// Route `mqtt`: the notice as retained JSON on <topic>/<kind>/<subject> and as plain text
// on <topic>/<kind>/<subject>/text, for a display that shows what it is given. Retained,
// so that a display which is switched on later shows what stands; emptied when over.

#include "daemon/delivery/routes.h"

namespace rimeward {
namespace {

// Below the time that a stop of the daemon waits for.
constexpr std::chrono::seconds kPatience{4};

class MqttRoute : public Route {
 public:
  MqttRoute(const RouteSettings& settings, const Outside& outside)
      : topic_(settings.topic), publish_(outside.publish) {}

  Outcome deliver(const Dispatch& dispatch, std::stop_token /*stop*/) override {
    const std::string topic =
        topic_ + "/" + dispatch.notice.kind + "/" + dispatch.notice.subject;
    const bool over = dispatch.event == "over";
    // The text last: who sees the text finds the JSON there too.
    const bool taken =
        publish_(topic, over ? "" : dispatch.json, true, kPatience) &&
        publish_(topic + "/text", over ? "" : dispatch.text, true, kPatience);
    if (taken) return {};
    return {Delivered::Outcome::kAgain, "the broker did not take " + topic +
                                            "; see what the daemon says of the "
                                            "connection to it"};
  }

 private:
  const std::string topic_;
  const decltype(Outside::publish) publish_;
};

}  // namespace

std::unique_ptr<Route> make_route_mqtt(const RouteSettings& settings,
                                       const Outside& outside) {
  return std::make_unique<MqttRoute>(settings, outside);
}

}  // namespace rimeward
