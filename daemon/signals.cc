#include "daemon/signals.h"

#include <csignal>
#include <stdexcept>

#include <poll.h>
#include <sys/signalfd.h>
#include <unistd.h>

namespace rimeward {
namespace {

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

}  // namespace rimeward
