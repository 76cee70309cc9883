#include "daemon/ingest/connect_trouble.h"

#include <algorithm>
#include <cerrno>
#include <fstream>
#include <iterator>
#include <system_error>
#include <utility>

#include <fmt/format.h>

namespace rimeward {
namespace {

Result<std::string> read_file(std::string_view key, const std::string& file) {
  std::ifstream stream(file, std::ios::binary);
  std::string text{std::istreambuf_iterator<char>(stream), {}};
  if (!stream.is_open() || stream.bad()) {
    return refuse(
        fmt::format("cannot read [broker] {} {}: {}; make it readable for the "
                    "daemon's user",
                    key, file, std::generic_category().message(errno)));
  }
  return text;
}

}  // namespace

bool is_secure(std::string_view address) {
  return address.starts_with("mqtts://") || address.starts_with("ssl://");
}

LinkEvent refused(std::string text) {
  return {LinkEvent::Kind::kRefused, std::move(text)};
}

// Return codes 1 to 5: OASIS MQTT 3.1.1, table 3.1.
LinkEvent connect_trouble(const Broker& broker, int return_code) {
  const std::string& where = broker.address;
  switch (return_code) {
    case 1:
      return refused(where + ": the broker does not speak MQTT 3.1.1; update it");
    case 2:
      return refused(
          fmt::format("{}: refused the client id \"{}\" (return code 2); "
                      "change [broker] client_id",
                      where, broker.client_id));
    case 3:
      return {LinkEvent::Kind::kUnreachable,
              where + ": the broker says that it is unavailable"};
    case 4:
    case 5:
      return refused(
          fmt::format("{}: refused the user name or password (return code "
                      "{}); check [broker] user and password_file",
                      where, return_code));
    default:
      break;
  }
  // Paho does not say whether it was the network or the certificate.
  const std::string_view hint =
      is_secure(where) ? "check that [broker] address is the name in its certificate and "
                         "that ca_file is the authority which signed that"
                       : "check [broker] address";
  return {LinkEvent::Kind::kUnreachable,
          fmt::format("{}: could not connect; waiting for the broker (if it is running, "
                      "{})",
                      where, hint)};
}

Result<std::string> read_password(const std::string& file) {
  if (file.empty()) return std::string{};
  auto password = read_file("password_file", file);
  if (!password) return password;
  password->erase(std::min(password->find_first_of("\r\n"), password->size()));
  return password;
}

// Paho would say no more of a missing file than that it could not connect.
Result<void> check_tls_files(const Broker& broker) {
  const std::pair<std::string_view, const std::string&> files[] = {
      {"ca_file", broker.ca_file},
      {"certificate", broker.certificate},
      {"key", broker.key}};
  for (const auto& [key, file] : files) {
    if (file.empty()) continue;
    if (auto read = read_file(key, file); !read) {
      return tl::unexpected(std::move(read.error()));
    }
  }
  return {};
}

}  // namespace rimeward
