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
    for (const Telling& telling : dispatch.tellings) {
      const std::string topic =
          topic_ + "/" + telling.notice.kind + "/" + telling.notice.subject;
      if (!is_published(telling, topic)) {
        return {Delivered::Outcome::kAgain, "the broker did not take " + topic +
                                                "; see what the daemon says of the "
                                                "connection to it"};
      }
    }
    return {};
  }

 private:
  // The text last: who sees the text finds the JSON there too.
  bool is_published(const Telling& telling, const std::string& topic) const {
    const bool over = telling.event == "over";
    const std::string text = telling.headline + "\n" + telling.notice.body + "\n";
    return publish_(topic, over ? "" : telling.json, true, kPatience) &&
           publish_(topic + "/text", over ? "" : text, true, kPatience);
  }

  const std::string topic_;
  const decltype(Outside::publish) publish_;
};

}  // namespace

std::unique_ptr<Route> make_route_mqtt(const RouteSettings& settings,
                                       const Outside& outside) {
  return std::make_unique<MqttRoute>(settings, outside);
}

}  // namespace rimeward
