// Publishes many messages at QoS 1, a window of them at a time, and outlasts a broker
// that goes away. One thread.

#pragma once

#include <cstddef>
#include <functional>
#include <memory>
#include <string>

#include "daemon/base/garden.h"
#include "sensors/result.h"

namespace rimeward {

class Publisher {
 public:
  // `say` is given a line when the broker is lost and when it is back.
  using Say = std::function<void(const std::string&)>;

  // How many messages may be on their way without the broker's word.
  static constexpr std::size_t kWindow = 100;

  // Connects with the address, user, password_file and ca_file of `broker`, or says why
  // it could not.
  static Result<Publisher> connect(const Broker& broker, Say say);
  Publisher(Publisher&&) noexcept;
  Publisher& operator=(Publisher&&) noexcept;
  ~Publisher();

  // Waits while the window is full, and as long as it takes while the broker is away.
  // After a loss, messages without the broker's word are sent again.
  void publish(const std::string& topic, const std::string& payload);

  // Waits for the word on all that was published.
  void finish();

 private:
  class Impl;
  explicit Publisher(std::unique_ptr<Impl> impl);
  std::unique_ptr<Impl> impl_;
};

}  // namespace rimeward
