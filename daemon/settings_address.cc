#include "daemon/settings_address.h"

#include <algorithm>
#include <charconv>
#include <cstdint>

#include <arpa/inet.h>
#include <fmt/format.h>

namespace rimeward {
namespace {

// RFC 5321, section 4.5.3.1: of the part before the @, and of the path less its brackets.
constexpr std::size_t kLongestLocal = 64;
constexpr std::size_t kLongestMailbox = 254;
// What atoms are made of besides letters and digits (RFC 5322, section 3.2.3), and the
// dot between them.
constexpr std::string_view kAtoms = "!#$%&'*+-/=?^_`{|}~.";

bool is_letter_or_digit(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9');
}

bool is_visible_ascii(char c) {
  return c > ' ' && c < '\x7f';
}

// Of letters, digits and `others`.
bool is_made_of(std::string_view text, std::string_view others) {
  return std::ranges::all_of(text, [others](char c) {
    return is_letter_or_digit(c) || others.find(c) != std::string_view::npos;
  });
}

// Labels with dots between them; an underscore is met in names of local nets.
bool is_host_name(std::string_view text) {
  return !text.empty() && text.size() <= 253 && is_made_of(text, "-._") &&
         text.front() != '.' && text.front() != '-' &&
         text.find("..") == std::string_view::npos;
}

bool is_number_of_ipv6(std::string_view text) {
  in6_addr ignored{};
  return inet_pton(AF_INET6, std::string(text).c_str(), &ignored) == 1;
}

bool is_host(std::string_view text) {
  if (!text.starts_with('[')) return is_host_name(text);
  return text.ends_with(']') && is_number_of_ipv6(text.substr(1, text.size() - 2));
}

bool is_port(std::string_view text) {
  std::uint16_t port = 0;
  const auto read = std::from_chars(text.data(), text.data() + text.size(), port);
  return read.ec == std::errc{} && read.ptr == text.data() + text.size() && port != 0;
}

}  // namespace

bool ServerAddress::is_loopback() const {
  if (host == "localhost" || host == "[::1]") return true;
  in_addr number{};
  // 127.0.0.0/8: RFC 1122, section 3.2.1.3.
  return inet_pton(AF_INET, host.c_str(), &number) == 1 &&
         ntohl(number.s_addr) >> 24U == 127;
}

Result<ServerAddress> server_address(std::string_view text, const AddressForm& form) {
  const auto refused = [&form] {
    return refuse(fmt::format("expected {} or {} and a host, such as \"{}\"", form.plain,
                              form.secure, form.example));
  };
  ServerAddress address;
  address.is_secure = text.starts_with(form.secure);
  if (!address.is_secure && !text.starts_with(form.plain)) return refused();
  text.remove_prefix(address.is_secure ? form.secure.size() : form.plain.size());
  const std::string_view authority = text.substr(0, text.find_first_of("/?#"));
  const std::string_view path = text.substr(authority.size());
  if (authority.find('@') != std::string_view::npos) {
    return refuse(fmt::format("has a user in it; {}", form.user_remedy));
  }
  // An IPv6 number has colons of its own, within its brackets.
  const std::size_t colon = authority.find(':', authority.find(']') + 1);
  address.host = authority.substr(0, colon);
  const bool has_port = colon != std::string_view::npos;
  if (!is_host(address.host) || (has_port && !is_port(authority.substr(colon + 1))) ||
      !std::ranges::all_of(path, is_visible_ascii) || (!form.has_path && !path.empty())) {
    return refused();
  }
  return address;
}

bool is_mailbox(std::string_view text) {
  const std::size_t at = text.find('@');
  if (at == std::string_view::npos || text.size() > kLongestMailbox) return false;
  const std::string_view local = text.substr(0, at);
  return !local.empty() && local.size() <= kLongestLocal && is_made_of(local, kAtoms) &&
         !local.starts_with('.') && !local.ends_with('.') &&
         local.find("..") == std::string_view::npos && is_host_name(text.substr(at + 1));
}

bool is_field_name(std::string_view text) {
  return !text.empty() && is_made_of(text, "!#$%&'*+-.^_`|~");
}

}  // namespace rimeward
