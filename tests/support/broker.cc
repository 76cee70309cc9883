#include "tests/support/broker.h"

#include <chrono>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <stdexcept>
#include <thread>
#include <vector>

#include <arpa/inet.h>
#include <fmt/format.h>
#include <netinet/in.h>
#include <signal.h>
#include <spawn.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

namespace rimeward {
namespace {

using namespace std::chrono_literals;
namespace fs = std::filesystem;

// Debian installs the broker where only root's PATH looks.
std::string broker_program() {
  for (const char* path : {"/usr/sbin/mosquitto", "/usr/local/sbin/mosquitto",
                           "/usr/bin/mosquitto", "/usr/local/bin/mosquitto"}) {
    if (fs::exists(path)) return path;
  }
  throw std::runtime_error(
      "mosquitto is not installed; this test needs a real broker: apt-get install "
      "mosquitto");
}

sockaddr_in loopback(int port) {
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  address.sin_port = htons(static_cast<std::uint16_t>(port));
  return address;
}

int free_port() {
  const int descriptor = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
  sockaddr_in address = loopback(0);
  socklen_t length = sizeof address;
  auto* generic = reinterpret_cast<sockaddr*>(&address);
  const bool bound = ::bind(descriptor, generic, length) == 0 &&
                     ::getsockname(descriptor, generic, &length) == 0;
  ::close(descriptor);
  if (!bound) throw std::runtime_error("no free port on the loopback");
  return ntohs(address.sin_port);
}

bool answers(int port) {
  const int descriptor = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
  sockaddr_in address = loopback(port);
  const bool connected =
      ::connect(descriptor, reinterpret_cast<sockaddr*>(&address), sizeof address) == 0;
  ::close(descriptor);
  return connected;
}

pid_t spawn(std::vector<std::string> words) {
  std::vector<char*> arguments;
  for (std::string& word : words)
    arguments.push_back(word.data());
  arguments.push_back(nullptr);
  // The test may run with signals blocked, as the daemon does.
  posix_spawnattr_t attributes;
  ::posix_spawnattr_init(&attributes);
  sigset_t none;
  ::sigemptyset(&none);
  ::posix_spawnattr_setsigmask(&attributes, &none);
  ::posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETSIGMASK);
  pid_t process = -1;
  const int error = ::posix_spawnp(&process, arguments[0], nullptr, &attributes,
                                   arguments.data(), environ);
  ::posix_spawnattr_destroy(&attributes);
  if (error != 0) {
    throw std::runtime_error(fmt::format("{} cannot be started ({})", words[0], error));
  }
  return process;
}

void run(std::vector<std::string> words) {
  const std::string name = words[0];
  int status = 0;
  const pid_t process = spawn(std::move(words));
  if (::waitpid(process, &status, 0) != process || status != 0) {
    throw std::runtime_error(fmt::format("{} failed ({})", name, status));
  }
}

}  // namespace

TestBroker::TestBroker() : TestBroker(Options{}) {}

TestBroker::TestBroker(Options options)
    : options_(std::move(options)), port_(free_port()) {
  write_files();
  start();
}

TestBroker::~TestBroker() {
  stop();
}

void TestBroker::write_files() {
  const std::string folder = folder_.path().string();
  std::ofstream config(folder_ / "mosquitto.conf");
  config << "listener " << port_ << " 127.0.0.1\n"
         << "persistence true\n"
         << "persistence_location " << folder << "/\n"
         << "log_dest file " << folder << "/mosquitto.log\n"
         << "max_queued_messages 0\n";
  if (::geteuid() == 0) config << "user root\n";
  if (options_.user.empty()) {
    config << "allow_anonymous true\n";
  } else {
    run({"mosquitto_passwd", "-b", "-c", folder + "/users", options_.user,
         options_.password});
    config << "allow_anonymous false\npassword_file " << folder << "/users\n";
    std::ofstream(folder_ / "password") << options_.password << '\n';
  }
  if (options_.tls) {
    write_certificates();
    config << "certfile " << folder << "/server.pem\nkeyfile " << folder
           << "/server.key\ncafile " << folder << "/ca.pem\n";
  }
}

void TestBroker::write_certificates() {
  const std::string folder = folder_.path().string() + "/";
  std::ofstream(folder + "names") << "subjectAltName=IP:127.0.0.1\n";
  const std::string log = folder + "openssl.log";
  run({"openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256",
       "-nodes", "-subj", "/CN=test CA", "-days", "2", "-keyout", folder + "ca.key",
       "-out", folder + "ca.pem"});
  run({"openssl", "req", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes",
       "-subj", "/CN=broker", "-keyout", folder + "server.key", "-out",
       folder + "server.csr"});
  run({"openssl", "x509", "-req", "-in", folder + "server.csr", "-CA", folder + "ca.pem",
       "-CAkey", folder + "ca.key", "-CAcreateserial", "-days", "2", "-extfile",
       folder + "names", "-out", folder + "server.pem"});
}

void TestBroker::start() {
  if (process_ > 0) return;
  process_ = spawn({broker_program(), "-c", (folder_ / "mosquitto.conf").string()});
  const auto deadline = std::chrono::steady_clock::now() + 10s;
  while (!answers(port_)) {
    const bool ended = ::waitpid(process_, nullptr, WNOHANG) != 0;
    if (ended || std::chrono::steady_clock::now() > deadline) {
      if (ended) process_ = -1;
      std::ostringstream log;
      log << std::ifstream(folder_ / "mosquitto.log").rdbuf();
      throw std::runtime_error("mosquitto does not answer; its log: " + log.str());
    }
    std::this_thread::sleep_for(10ms);
  }
}

void TestBroker::stop() {
  if (process_ <= 0) return;
  // A broker that is just starting may lose the first word.
  do {
    ::kill(process_, SIGTERM);
    std::this_thread::sleep_for(5ms);
  } while (::waitpid(process_, nullptr, WNOHANG) == 0);
  process_ = -1;
}

std::string TestBroker::address() const {
  return fmt::format("{}://127.0.0.1:{}", options_.tls ? "mqtts" : "mqtt", port_);
}

Broker TestBroker::settings(const std::string& client_id) const {
  Broker broker;
  broker.address = address();
  broker.client_id = client_id;
  broker.listen = {"garden/#"};
  broker.user = options_.user;
  if (!options_.user.empty()) broker.password_file = (folder_ / "password").string();
  if (options_.tls) broker.ca_file = ca_file();
  return broker;
}

}  // namespace rimeward
