#include "daemon/ingest/mqtt_link.h"

#include <algorithm>
#include <atomic>
#include <condition_variable>
#include <cstdio>
#include <cstdlib>
#include <deque>
#include <filesystem>
#include <mutex>
#include <new>
#include <optional>
#include <stdexcept>
#include <thread>
#include <utility>

#include <MQTTAsync.h>
#include <fmt/format.h>
#include <mqtt/async_client.h>

#include "daemon/base/log.h"
#include "daemon/ingest/connect_trouble.h"
#include "sensors/decoders.h"
#include "sensors/iso_time.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using Steady = std::chrono::steady_clock;
using Kind = LinkEvent::Kind;

constexpr int kQos = 1;
constexpr auto kKeepAlive = 30s;
constexpr auto kConnectTimeout = 10s;
constexpr auto kSubscribeTimeout = 10s;
constexpr auto kSlice = 100ms;  // of a wait that a loss or a stop must end
constexpr auto kAfterLoss = 200ms;
constexpr auto kFirstRetry = 1s;
constexpr auto kLastRetry = 60s;
constexpr std::size_t kKeptOfTooLarge = 100;  // bytes, to say what it was
constexpr std::size_t kClashLosses = 5;       // in kClashSpan
constexpr auto kClashSpan = 30s;
constexpr auto kClashRetry = 10s;
constexpr const char* kSystemTrust = "/etc/ssl/certs/ca-certificates.crt";

// The C++ wrapper keeps the packet id of a message to itself; it is the one thing that
// tells a redelivery from an equal value sent again. An explicit instantiation may name a
// private member.
const MQTTAsync_message& c_message(const mqtt::message& message);
template <auto Member>
struct Reach {
  friend const MQTTAsync_message& c_message(const mqtt::message& message) {
    return message.*Member;
  }
};
template struct Reach<&mqtt::message::msg_>;

mqtt::message_ptr status_message(const std::string& topic, std::string_view payload) {
  return mqtt::message::create(topic, payload.data(), payload.size(), kQos, true);
}

Arrival to_arrival(const mqtt::message& message, Instant at) {
  const auto& payload = message.get_payload_ref();
  const std::size_t kept =
      payload.length() > kLargestPayload ? kKeptOfTooLarge : payload.length();
  return {.sequence = 0,
          .at = at,
          .topic = message.get_topic(),
          .payload = payload.empty() ? std::string{} : payload.str().substr(0, kept),
          .payload_bytes = payload.length(),
          .qos = message.get_qos(),
          .retained = message.is_retained(),
          .redelivered = message.is_duplicate(),
          .packet_id = message.get_qos() > 0 ? c_message(message).msgid : 0};
}

bool granted(const mqtt::token& subscription) {
  const auto response = subscription.get_subscribe_response();
  return std::ranges::all_of(response.get_reason_codes(),
                             [](auto code) { return static_cast<int>(code) < 0x80; });
}

// Paho would have OpenSSL set up all it has for the first client, TLS or not: a megabyte.
// OpenSSL sets itself up when it is first used (OPENSSL_init_ssl(3)).
void leave_openssl_to_itself() {
  static std::once_flag left;
  std::call_once(left, [] {
    MQTTAsync_init_options options = MQTTAsync_init_options_initializer;
    options.do_openssl_init = 0;
    MQTTAsync_global_init(&options);
  });
}

mqtt::create_options create_options_of() {
  leave_openssl_to_itself();
  constexpr int kBufferedMessages = 1000;
  return {MQTTVERSION_3_1_1, kBufferedMessages};
}

}  // namespace

class MqttLink::Impl {
 public:
  Impl(const Broker& broker, Handlers handlers)
      : broker_(broker),
        handlers_(std::move(handlers)),
        client_(broker.address, broker.client_id, create_options_of()) {
    prepare_tls();
    // All handlers before the first connect: later, the wrapper's lock can be held.
    client_.set_message_callback(
        [this](mqtt::const_message_ptr message) { receive(message); });
    client_.set_connection_lost_handler([this](const std::string& /*cause*/) {
      {
        const std::lock_guard lock(mutex_);
        lost_ = true;
      }
      changed_.notify_all();
    });
  }

  void start() {
    keeper_ = std::jthread([this](const std::stop_token& stop) { keep(stop); });
  }

  void stop() {
    if (!keeper_.joinable()) return;
    keeper_.request_stop();
    keeper_.join();
  }

  bool connected() const { return listening_.load(); }

  bool publish(const std::string& topic, const std::string& payload, bool retained,
               std::chrono::milliseconds patience) {
    try {
      if (!client_.is_connected()) return false;
      // Kept until the next one: Paho still touches a token after it has woken us.
      published_ = client_.publish(topic, payload.data(), payload.size(), kQos, retained);
      const auto deadline = Steady::now() + patience;
      while (
          !published_->wait_for(std::min<std::chrono::milliseconds>(patience, kSlice))) {
        if (Steady::now() >= deadline || !client_.is_connected()) return false;
      }
      return true;
    } catch (const std::exception&) {
      return false;
    }
  }

 private:
  // --- on Paho's thread

  void receive(const mqtt::const_message_ptr& message) noexcept {
    try {
      handlers_.arrived(to_arrival(*message, handlers_.clock()));
    } catch (const std::bad_alloc&) {
      // To go on would be to acknowledge what was not kept. This way the broker sends it
      // again to the next start; one too large to be of use takes no memory of ours.
      std::fputs("rimewardd: no memory left; it ends to start anew\n", stderr);
      std::abort();
    } catch (...) {
      // Nothing may leave a callback of Paho's: the process would end, and the same
      // message would end it again. A handler that throws has lost this one.
      try {
        handlers_.event({Kind::kLost, "a message was lost on arrival"});
      } catch (...) {
        return;
      }
    }
  }

  // --- on the link's thread

  void keep(const std::stop_token& stop) {
    auto retry = std::chrono::seconds{kFirstRetry};
    while (!stop.stop_requested()) {
      if (!connect(stop)) {
        pause(stop, retry);
        retry = std::min<std::chrono::seconds>(retry * 2, kLastRetry);
        continue;
      }
      retry = kFirstRetry;
      listen(stop);
      wait_until_lost(stop);
      if (!stop.stop_requested()) pause(stop, note_loss());
    }
    farewell();
  }

  bool connect(const std::stop_token& stop) {
    auto password = read_password(broker_.password_file);
    if (!password) {
      complain(refused(broker_.address + ": " + password.error().message));
      return false;
    }
    if (const auto readable = check_tls_files(broker_); !readable) {
      complain(refused(broker_.address + ": " + readable.error().message));
      return false;
    }
    forget_loss();
    try {
      connecting_ = client_.connect(options_with(*password));
      const auto deadline = Steady::now() + kConnectTimeout + 2s;
      while (!connecting_->wait_for(kSlice)) {
        if (stop.stop_requested()) return false;
        if (Steady::now() < deadline) continue;
        complain({Kind::kUnreachable, broker_.address + ": no answer"});
        return false;
      }
      return true;
    } catch (const mqtt::exception& error) {
      complain(connect_trouble(broker_, error.get_return_code()));
    } catch (const std::exception& error) {
      complain({Kind::kUnreachable, broker_.address + ": " + error.what()});
    }
    return false;
  }

  mqtt::connect_options options_with(const std::string& password) const {
    mqtt::connect_options options;
    options.set_mqtt_version(MQTTVERSION_3_1_1);
    options.set_clean_session(only_looks());
    options.set_keep_alive_interval(kKeepAlive);
    options.set_connect_timeout(kConnectTimeout);
    if (!only_looks()) {
      options.set_will_message(
          status_message(broker_.status_topic, R"({"state":"lost"})"));
    }
    if (!broker_.user.empty()) options.set_user_name(broker_.user);
    if (!password.empty()) options.set_password(password);
    if (is_secure(broker_.address)) options.set_ssl(tls_);
    return options;
  }

  // Subscribes and says that we are here.
  void listen(const std::stop_token& stop) {
    std::string topics;
    bool all_granted = true;
    for (const std::string& filter : broker_.listen) {
      if (stop.stop_requested()) return;
      all_granted = subscribe(filter, stop) && all_granted;
      topics += (topics.empty() ? "" : ", ") + filter;
    }
    const std::string since = format_utc(handlers_.clock());
    announce(fmt::format(R"({{"state":"listening","since":"{}"}})", since));
    if (is_lost() || stop.stop_requested()) return;
    listening_ = true;
    if (!clashing_) {
      tell(Kind::kConnected,
           fmt::format("{}: connected, listening to {}", broker_.address, topics));
    }
    if (all_granted) trouble_.forget();
  }

  bool subscribe(const std::string& filter, const std::stop_token& stop) {
    try {
      subscribing_ = client_.subscribe(filter, kQos);
      const auto deadline = Steady::now() + kSubscribeTimeout;
      while (!subscribing_->wait_for(kSlice)) {
        if (stop.stop_requested() || is_lost()) return false;
        if (Steady::now() < deadline) continue;
        complain(
            {Kind::kUnreachable, fmt::format("{}: no answer to the subscription to {}",
                                             broker_.address, filter)});
        return false;
      }
      if (granted(*subscribing_)) return true;
    } catch (const std::exception&) {
      if (is_lost()) return false;
    }
    complain(
        refused(fmt::format("{}: refused the subscription to {}; allow it to "
                            "user \"{}\" on the broker, or change [broker] listen",
                            broker_.address, filter, broker_.user)));
    return false;
  }

  // Without a status topic nothing of this link is to be seen on the broker afterwards.
  bool only_looks() const { return broker_.status_topic.empty(); }

  void announce(const std::string& payload) {
    if (only_looks()) return;
    try {
      announcing_ = client_.publish(status_message(broker_.status_topic, payload));
    } catch (const std::exception&) {
      return;  // not connected any more: the next connection says it
    }
  }

  void wait_until_lost(const std::stop_token& stop) {
    std::unique_lock lock(mutex_);
    changed_.wait(lock, stop, [this] { return lost_; });
  }

  void pause(const std::stop_token& stop, std::chrono::milliseconds length) {
    std::unique_lock lock(mutex_);
    changed_.wait_for(lock, stop, length, [] { return false; });
  }

  bool is_lost() {
    const std::lock_guard lock(mutex_);
    return lost_;
  }

  void forget_loss() {
    const std::lock_guard lock(mutex_);
    lost_ = false;
  }

  // How long to wait before connecting again. Two clients with one id throw each other
  // off as fast as they connect, so a quick row of losses is told from a bad network.
  std::chrono::milliseconds note_loss() {
    listening_ = false;
    const auto now = Steady::now();
    losses_.push_back(now);
    while (now - losses_.front() > kClashSpan)
      losses_.pop_front();
    clashing_ = losses_.size() >= kClashLosses;
    if (!clashing_) {
      tell(Kind::kLost, broker_.address + ": connection lost, connecting again");
      return kAfterLoss;
    }
    complain({Kind::kClash,
              fmt::format("{}: lost {} times in {} s: another program seems to connect "
                          "with the client id \"{}\"; stop it, or give one of the two "
                          "another [broker] client_id",
                          broker_.address, kClashLosses, kClashSpan.count(),
                          broker_.client_id)});
    return kClashRetry;
  }

  void farewell() {
    listening_ = false;
    try {
      if (!client_.is_connected()) return;
      announce(R"({"state":"stopped"})");
      if (announcing_) announcing_->wait_for(1s);
      leaving_ = client_.disconnect(0);
      leaving_->wait_for(2s);
    } catch (const std::exception&) {
      return;  // the broker is gone: it publishes our last will
    }
  }

  void tell(Kind kind, std::string text) { handlers_.event({kind, std::move(text)}); }

  void complain(const LinkEvent& failure) {
    const auto line = trouble_.pass(failure.text, failure.text, handlers_.clock());
    if (line) tell(failure.kind, *line);
  }

  void prepare_tls() {
    if (!is_secure(broker_.address)) return;
    std::error_code ignored;
    if (!broker_.ca_file.empty()) {
      tls_.set_trust_store(broker_.ca_file);
    } else if (std::filesystem::exists(kSystemTrust, ignored)) {
      tls_.set_trust_store(kSystemTrust);
    }
    if (!broker_.certificate.empty()) tls_.set_key_store(broker_.certificate);
    if (!broker_.key.empty()) tls_.set_private_key(broker_.key);
    tls_.set_enable_server_cert_auth(true);
    tls_.set_verify(true);  // without it any certificate of the CA will do
    // Without an error handler, which would tell why: Paho 1.2.0 calls it on a copy of
    // these options that is destroyed as soon as connect() returns.
  }

  const Broker broker_;
  const Handlers handlers_;

  std::atomic<bool> listening_ = false;

  std::mutex mutex_;
  std::condition_variable_any changed_;
  // Guarded by mutex_.
  bool lost_ = false;

  // The link's thread only. Tokens are kept until the next of their kind, see publish().
  RepeatLimit trouble_{10min};
  std::deque<Steady::time_point> losses_;
  bool clashing_ = false;
  mqtt::token_ptr connecting_;
  mqtt::token_ptr subscribing_;
  mqtt::token_ptr leaving_;
  mqtt::delivery_token_ptr announcing_;

  // The publishing thread only.
  mqtt::delivery_token_ptr published_;

  // Must outlive the connection: Paho keeps its address.
  mqtt::ssl_options tls_;
  mqtt::async_client client_;
  std::jthread keeper_;
};

MqttLink::MqttLink(const Broker& broker, Handlers handlers) {
  try {
    impl_ = std::make_unique<Impl>(broker, std::move(handlers));
  } catch (const mqtt::exception& error) {
    throw std::runtime_error(fmt::format(
        "[broker] address \"{}\" with client id \"{}\": {}; expected an address such as "
        "mqtt://127.0.0.1:1883",
        broker.address, broker.client_id, error.what()));
  }
}

MqttLink::~MqttLink() {
  stop();
}

void MqttLink::start() {
  impl_->start();
}

bool MqttLink::connected() const {
  return impl_->connected();
}

bool MqttLink::publish(const std::string& topic, const std::string& payload,
                       bool retained, std::chrono::milliseconds patience) {
  return impl_->publish(topic, payload, retained, patience);
}

void MqttLink::stop() {
  impl_->stop();
}

}  // namespace rimeward
