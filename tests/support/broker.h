// A real broker for one test: Mosquitto on a free loopback port, with a folder of its
// own. Not thread-safe.

#pragma once

#include <string>

#include <sys/types.h>

#include "daemon/base/garden.h"
#include "tests/support/scratch_folder.h"

namespace rimeward {

class TestBroker {
 public:
  struct Options {
    std::string user = {};  // empty: everybody is let in
    std::string password = {};
    bool tls = false;  // with a certificate for 127.0.0.1 from a CA of its own
  };

  // Starts it. Throws std::runtime_error, saying what to install where it is missing.
  TestBroker();
  explicit TestBroker(Options options);
  ~TestBroker();
  TestBroker(const TestBroker&) = delete;
  TestBroker& operator=(const TestBroker&) = delete;

  // Ends it in order: sessions and retained messages are kept for the next start.
  void stop();
  void start();  // on the same port

  std::string address() const;
  std::string ca_file() const { return (folder_ / "ca.pem").string(); }
  const ScratchFolder& folder() const { return folder_; }

  // Settings of a client that listens to garden/#, with the right user and password.
  Broker settings(const std::string& client_id) const;

 private:
  void write_files();
  void write_certificates();

  const Options options_;
  ScratchFolder folder_;
  int port_ = 0;
  pid_t process_ = -1;
};

}  // namespace rimeward
