#include "daemon/signals.h"

#include <algorithm>
#include <csignal>
#include <cstdint>
#include <ctime>
#include <stdexcept>
#include <utility>

#include <fmt/format.h>
#include <poll.h>
#include <sys/signalfd.h>
#include <systemd/sd-daemon.h>
#include <unistd.h>

namespace rimeward {
namespace {

using namespace std::chrono_literals;

// Looked at this often, so that a loop that has failed is noticed soon.
constexpr std::chrono::milliseconds kLookEvery = 1s;

sigset_t caught() {
  sigset_t set;
  sigemptyset(&set);
  for (const int signal : {SIGTERM, SIGINT, SIGHUP})
    sigaddset(&set, signal);
  return set;
}

}  // namespace

Signals::Signals() {
  const sigset_t set = caught();
  pthread_sigmask(SIG_BLOCK, &set, nullptr);
  std::signal(SIGPIPE, SIG_IGN);
  descriptor_ = signalfd(-1, &set, SFD_CLOEXEC | SFD_NONBLOCK);
  if (descriptor_ < 0) throw std::runtime_error("signalfd: no descriptor left");
}

Signals::~Signals() {
  close(descriptor_);
}

Signals::Kind Signals::wait(std::chrono::milliseconds patience) {
  pollfd watched{.fd = descriptor_, .events = POLLIN, .revents = 0};
  if (poll(&watched, 1, static_cast<int>(patience.count())) <= 0) return Kind::kNone;
  signalfd_siginfo signal{};
  if (read(descriptor_, &signal, sizeof signal) != sizeof signal) return Kind::kNone;
  return signal.ssi_signo == SIGHUP ? Kind::kReload : Kind::kStop;
}

Supervisor::Supervisor() : feed_every_(kLookEvery) {
  std::uint64_t patience = 0;
  if (sd_watchdog_enabled(0, &patience) > 0) {
    const std::chrono::microseconds third{static_cast<std::int64_t>(patience / 3)};
    feed_every_ = std::clamp(std::chrono::duration_cast<std::chrono::milliseconds>(third),
                             1ms, kLookEvery);
  }
}

void Supervisor::ready() {
  sd_notify(0, "READY=1");
}

void Supervisor::reloading() {
  timespec now{};
  clock_gettime(CLOCK_MONOTONIC, &now);
  const std::int64_t microseconds =
      std::int64_t{now.tv_sec} * 1'000'000 + std::int64_t{now.tv_nsec} / 1'000;
  sd_notify(0, fmt::format("RELOADING=1\nMONOTONIC_USEC={}", microseconds).c_str());
}

void Supervisor::stopping() {
  sd_notify(0, "STOPPING=1");
}

void Supervisor::feed() {
  sd_notify(0, "WATCHDOG=1");
}

void Supervisor::status(const std::string& line) {
  if (std::exchange(status_, line) != line) sd_notify(0, ("STATUS=" + line).c_str());
}

}  // namespace rimeward
