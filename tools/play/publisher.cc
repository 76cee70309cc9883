#include "tools/play/publisher.h"

#include <cerrno>
#include <chrono>
#include <deque>
#include <exception>
#include <fstream>
#include <iterator>
#include <system_error>
#include <thread>
#include <utility>

#include <fmt/format.h>
#include <mqtt/async_client.h>
#include <unistd.h>

namespace rimeward {
namespace {

using namespace std::chrono_literals;

constexpr int kQos = 1;

Result<mqtt::connect_options> options_of(const Broker& broker,
                                         const mqtt::ssl_options& tls) {
  mqtt::connect_options options;
  options.set_mqtt_version(MQTTVERSION_3_1_1);
  options.set_clean_session(true);
  options.set_keep_alive_interval(30s);
  options.set_connect_timeout(10s);
  if (!broker.user.empty()) options.set_user_name(broker.user);
  if (!broker.password_file.empty()) {
    std::ifstream stream(broker.password_file, std::ios::binary);
    std::string password{std::istreambuf_iterator<char>(stream), {}};
    if (!stream.is_open() || stream.bad()) {
      return refuse(fmt::format("cannot read password_file {}: {}", broker.password_file,
                                std::generic_category().message(errno)));
    }
    while (password.ends_with('\n') || password.ends_with('\r'))
      password.pop_back();
    options.set_password(password);
  }
  if (!broker.ca_file.empty()) options.set_ssl(tls);
  return options;
}

std::string reason_of(const mqtt::exception& error) {
  switch (error.get_return_code()) {
    case 4:
    case 5:
      return "refused the user name or password";
    default:
      return "could not connect; is it running?";
  }
}

}  // namespace

class Publisher::Impl {
 public:
  Impl(const Broker& broker, Say say)
      : broker_(broker),
        say_(std::move(say)),
        client_(broker.address, fmt::format("rimeward-play-{}", ::getpid()),
                mqtt::create_options(MQTTVERSION_3_1_1, 2 * kWindow)) {
    if (broker.ca_file.empty()) return;
    tls_.set_trust_store(broker.ca_file);
    tls_.set_enable_server_cert_auth(true);
    tls_.set_verify(true);
  }

  ~Impl() {
    try {
      if (client_.is_connected()) client_.disconnect(0)->wait_for(2s);
    } catch (const std::exception&) {
      return;  // it is gone already
    }
  }
  Impl(const Impl&) = delete;
  Impl& operator=(const Impl&) = delete;

  Result<void> connect() {
    auto options = options_of(broker_, tls_);
    if (!options) return tl::unexpected(std::move(options.error()));
    try {
      connecting_ = client_.connect(std::move(*options));
      if (connecting_->wait_for(12s)) return {};
      return refuse(broker_.address + ": no answer");
    } catch (const mqtt::exception& error) {
      return refuse(broker_.address + ": " + reason_of(error));
    }
  }

  void publish(const std::string& topic, const std::string& payload) {
    while (window_.size() >= kWindow)
      settle_oldest();
    window_.push_back(
        {mqtt::message::create(topic, payload.data(), payload.size(), kQos, false), {}});
    if (!send(window_.back())) resume();
  }

  void finish() {
    while (!window_.empty())
      settle_oldest();
  }

 private:
  struct Pending {
    mqtt::const_message_ptr message;
    mqtt::delivery_token_ptr token;
  };

  bool send(Pending& pending) {
    try {
      pending.token = client_.publish(pending.message);
      return true;
    } catch (const mqtt::exception&) {
      return false;
    }
  }

  void settle_oldest() {
    try {
      while (!window_.front().token->wait_for(200ms)) {
        if (!client_.is_connected()) return resume();
      }
      settled_ = window_.front().token;  // Paho still touches it after it has woken us
      window_.pop_front();
    } catch (const mqtt::exception&) {
      resume();
    }
  }

  // Connects again and sends the window again, in order.
  void resume() {
    say_(broker_.address + ": connection lost, waiting for the broker");
    for (;;) {
      while (!client_.is_connected() && !connect())
        std::this_thread::sleep_for(500ms);
      bool all_sent = true;
      for (Pending& pending : window_)
        all_sent = all_sent && send(pending);
      if (all_sent) break;
      std::this_thread::sleep_for(500ms);
    }
    say_(broker_.address + ": connected again");
  }

  const Broker broker_;
  const Say say_;
  mqtt::ssl_options tls_;  // must outlive the connection: Paho keeps its address
  mqtt::async_client client_;
  mqtt::token_ptr connecting_;
  mqtt::delivery_token_ptr settled_;
  std::deque<Pending> window_;
};

Publisher::Publisher(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
Publisher::Publisher(Publisher&&) noexcept = default;
Publisher& Publisher::operator=(Publisher&&) noexcept = default;
Publisher::~Publisher() = default;

Result<Publisher> Publisher::connect(const Broker& broker, Say say) {
  try {
    auto impl = std::make_unique<Impl>(broker, std::move(say));
    if (auto connected = impl->connect(); !connected) {
      return tl::unexpected(std::move(connected.error()));
    }
    return Publisher(std::move(impl));
  } catch (const mqtt::exception&) {
    return refuse(broker.address + ": expected an address such as mqtt://127.0.0.1:1883");
  }
}

void Publisher::publish(const std::string& topic, const std::string& payload) {
  impl_->publish(topic, payload);
}

void Publisher::finish() {
  impl_->finish();
}

}  // namespace rimeward
