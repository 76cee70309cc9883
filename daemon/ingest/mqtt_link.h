// The connection to the broker: keeps it up, subscribes, hands over what arrives.
//
// Threads: `arrived` is called on Paho's one network thread, which acknowledges the
// message when it returns. It must be quick and must not call into MqttLink. `event` is
// called on the link's own thread, mostly, and on Paho's. That thread exists because
// Paho's automatic reconnection neither says that a password was refused nor reads a
// mended one, and because nothing may wait for the broker on Paho's.
//
// MQTT 3.1.1 with QoS 1, a fixed client id and a session that outlives the connection.
// The subscription is made anew on every connection, for a broker that lost its power has
// forgotten it; the retained copies that this brings are marked in Arrival::retained.

#pragma once

#include <chrono>
#include <functional>
#include <memory>
#include <string>

#include "daemon/base/arrival.h"
#include "daemon/base/garden.h"

namespace rimeward {

// Something to log: lower case, with place and remedy.
struct LinkEvent {
  enum class Kind {
    kConnected,
    kLost,
    kUnreachable,  // no answer, or none that is MQTT
    kRefused,      // the broker, or a file of ours, says no: a person must act
    kClash,        // another program connects with our client id
  };
  Kind kind;
  std::string text;
};

class MqttLink {
 public:
  struct Handlers {
    std::function<Instant()> clock;
    std::function<void(Arrival)> arrived;
    std::function<void(LinkEvent)> event;
  };

  // Throws std::runtime_error when the address is not one.
  MqttLink(const Broker& broker, Handlers handlers);
  ~MqttLink();  // stops
  MqttLink(const MqttLink&) = delete;
  MqttLink& operator=(const MqttLink&) = delete;

  // Connects, and connects again after 1 s, 2 s, ... 60 s for as long as it takes.
  void start();

  bool connected() const;

  // Publishes with QoS 1 and waits for the broker's word. False: not connected, or no
  // word within `patience`; the message may have got there all the same. Never throws.
  // One thread at a time, and never from a handler.
  bool publish(const std::string& topic, const std::string& payload, bool retained,
               std::chrono::milliseconds patience);

  // Takes leave of the broker; takes 5 s at most, but for a name server that hangs.
  void stop();

 private:
  class Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace rimeward
