#include "daemon/supervisor.h"

#include <algorithm>
#include <array>
#include <chrono>
#include <cstddef>
#include <cstdlib>
#include <cstring>
#include <string>

#include <doctest/doctest.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include "tests/support/scratch_folder.h"
#include "tests/support/variable.h"

using namespace rimeward;
using namespace std::chrono_literals;

namespace {

// The service manager's end of the protocol (sd_notify(3)).
class Manager {
 public:
  explicit Manager(const std::string& name)
      : descriptor_(socket(AF_UNIX, SOCK_DGRAM | SOCK_NONBLOCK, 0)) {
    sockaddr_un address{};
    address.sun_family = AF_UNIX;
    std::copy(name.begin(), name.end(), address.sun_path);
    if (name.front() == '@') address.sun_path[0] = '\0';
    REQUIRE(bind(descriptor_, reinterpret_cast<const sockaddr*>(&address),
                 static_cast<socklen_t>(offsetof(sockaddr_un, sun_path) + name.size())) ==
            0);
  }
  ~Manager() { close(descriptor_); }
  Manager(const Manager&) = delete;
  Manager& operator=(const Manager&) = delete;

  // Empty when nothing was told.
  std::string told() {
    std::array<char, 4096> text{};
    const ssize_t bytes = recv(descriptor_, text.data(), text.size(), 0);
    return bytes < 0 ? std::string{}
                     : std::string(text.data(), static_cast<std::size_t>(bytes));
  }

 private:
  int descriptor_;
};

}  // namespace

TEST_CASE("the service manager is told each state, a status only when it is another") {
  const ScratchFolder folder;
  for (const std::string& name :
       {(folder / "notify").string(),
        "@rimeward-test-" + folder.path().filename().string()}) {
    CAPTURE(name);
    Manager manager(name);
    const Variable socket("NOTIFY_SOCKET", name);
    Supervisor supervisor;
    supervisor.ready();
    CHECK(manager.told() == "READY=1");
    supervisor.feed();
    CHECK(manager.told() == "WATCHDOG=1");
    supervisor.status("listening");
    CHECK(manager.told() == "STATUS=listening");
    supervisor.status("listening");
    CHECK(manager.told().empty());
    supervisor.status("the store is full");
    CHECK(manager.told() == "STATUS=the store is full");
    supervisor.reloading();
    CHECK(manager.told().starts_with("RELOADING=1\nMONOTONIC_USEC="));
    supervisor.stopping();
    CHECK(manager.told() == "STOPPING=1");
  }
}

TEST_CASE(
    "without a service manager, or one that has gone, nothing is told and all goes on") {
  Supervisor{}.ready();
  for (const std::string& name :
       {std::string("/nowhere/notify"), std::string(200, 'n'), std::string("@")}) {
    const Variable socket("NOTIFY_SOCKET", name);
    Supervisor{}.ready();
  }
}

TEST_CASE("the watchdog is fed at a third of its patience, each second at least") {
  CHECK(Supervisor{}.feed_every() == 1s);
  const auto every = [](const std::string& microseconds, const std::string& process) {
    const Variable patience("WATCHDOG_USEC", microseconds);
    const Variable meant("WATCHDOG_PID", process);
    return Supervisor{}.feed_every();
  };
  CHECK(every("600000", std::to_string(getpid())) == 200ms);
  CHECK(every("600000", "") == 200ms);
  CHECK(every("30000000", "") == 1s);
  CHECK(every("2", "") == 1ms);
  // Another process's, or none that can be understood.
  CHECK(every("600000", std::to_string(getpid() + 1)) == 1s);
  CHECK(every("600000", "x") == 1s);
  CHECK(every("soon", "") == 1s);
  CHECK(every("0", "") == 1s);
  CHECK(every("-5", "") == 1s);
}
