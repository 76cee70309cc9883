#include "daemon/supervisor.h"

#include <algorithm>
#include <charconv>
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <cstring>
#include <ctime>
#include <optional>
#include <system_error>
#include <utility>

#include <fmt/format.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

namespace rimeward {
namespace {

using namespace std::chrono_literals;

// Looked at this often, so that a loop that has failed is noticed soon.
constexpr std::chrono::milliseconds kLookEvery = 1s;

std::string_view from_environment(const char* name) {
  const char* const value = std::getenv(name);
  return value == nullptr ? std::string_view{} : value;
}

std::optional<std::int64_t> whole(std::string_view text) {
  std::int64_t number = 0;
  const auto [end, error] =
      std::from_chars(text.data(), text.data() + text.size(), number);
  if (error != std::errc{} || end != text.data() + text.size()) return std::nullopt;
  return number;
}

// Of the watchdog that is meant for this process, if one is (sd_watchdog_enabled(3)).
std::optional<std::chrono::microseconds> patience() {
  const auto process = from_environment("WATCHDOG_PID");
  if (!process.empty() && whole(process) != getpid()) return std::nullopt;
  const auto microseconds = whole(from_environment("WATCHDOG_USEC"));
  if (!microseconds || *microseconds <= 0) return std::nullopt;
  return std::chrono::microseconds{*microseconds};
}

}  // namespace

Supervisor::Supervisor()
    : socket_(from_environment("NOTIFY_SOCKET")), feed_every_(kLookEvery) {
  if (const auto patient = patience()) {
    feed_every_ =
        std::clamp(std::chrono::duration_cast<std::chrono::milliseconds>(*patient / 3),
                   1ms, kLookEvery);
  }
}

void Supervisor::ready() {
  tell("READY=1");
}

void Supervisor::reloading() {
  timespec now{};
  clock_gettime(CLOCK_MONOTONIC, &now);
  const std::int64_t microseconds =
      std::int64_t{now.tv_sec} * 1'000'000 + std::int64_t{now.tv_nsec} / 1'000;
  tell(fmt::format("RELOADING=1\nMONOTONIC_USEC={}", microseconds));
}

void Supervisor::stopping() {
  tell("STOPPING=1");
}

void Supervisor::feed() {
  tell("WATCHDOG=1");
}

void Supervisor::status(const std::string& line) {
  if (std::exchange(status_, line) != line) tell("STATUS=" + line);
}

void Supervisor::tell(std::string_view state) const {
  sockaddr_un address{};
  address.sun_family = AF_UNIX;
  if (socket_.empty() || socket_.size() >= sizeof address.sun_path) return;
  std::memcpy(address.sun_path, socket_.data(), socket_.size());
  if (socket_.front() == '@') address.sun_path[0] = '\0';
  const int descriptor = socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0);
  if (descriptor < 0) return;
  const auto length =
      static_cast<socklen_t>(offsetof(sockaddr_un, sun_path) + socket_.size());
  // Sockets take any address by a pointer to the least of them.
  static_cast<void>(sendto(descriptor, state.data(), state.size(), MSG_NOSIGNAL,
                           reinterpret_cast<const sockaddr*>(&address), length));
  close(descriptor);
}

}  // namespace rimeward
