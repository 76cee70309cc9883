// One [[route]] of the settings file: what goes that way and when, and what each kind of
// route needs to get it there.

#include <algorithm>
#include <array>
#include <chrono>
#include <optional>
#include <string>
#include <utility>

#include <fmt/format.h>

#include "daemon/base/text.h"
#include "daemon/notice/notice_kinds.h"
#include "daemon/settings_address.h"
#include "daemon/settings_parts.h"
#include "sensors/escape.h"
#include "sensors/topic.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

constexpr DurationRange kTimeLimit{1s, 10min};
constexpr std::array<std::string_view, 2> kFormats{"json", "text"};

constexpr AddressForm kMailServer{.plain = "smtp://",
                                  .secure = "smtps://",
                                  .has_path = false,
                                  .example = "smtps://mail.example.org:465",
                                  .user_remedy = "use the keys user and password_file"};
constexpr AddressForm kWebAddress{
    .plain = "http://",
    .secure = "https://",
    .has_path = true,
    .example = "https://example.org/notices",
    .user_remedy = "put a token into a file and name it by bearer_file"};

// A key that only some kinds of route have. All others share theirs.
struct KeyOfKinds {
  std::string_view key;
  std::vector<std::string_view> kinds;
};

const std::vector<KeyOfKinds>& keys_of_kinds() {
  static const std::vector<KeyOfKinds> keys{
      {"topic", {"mqtt"}},
      {"run", {"command"}},
      {"server", {"email"}},
      {"encrypted", {"email"}},
      {"user", {"email"}},
      {"password_file", {"email"}},
      {"from", {"email"}},
      {"to", {"email"}},
      {"url", {"http"}},
      {"format", {"http"}},
      {"headers", {"http"}},
      {"bearer_file", {"http"}},
      {"ca_file", {"email", "http"}},
      {"digest", {"email", "http"}},
      {"time_limit", {"command", "email", "http"}},
  };
  return keys;
}

// Headers (RFC 9110) that the program writes by itself, and what to do instead.
struct OwnHeader {
  std::string_view name;
  std::string_view remedy;
};

constexpr std::array kOwnHeaders{
    OwnHeader{"Authorization", "put the token into a file and name it by bearer_file"},
    OwnHeader{"Content-Type", "it follows from format; leave it out"},
    OwnHeader{"Idempotency-Key", "each message has its own; leave it out"},
    OwnHeader{"Host", "it follows from url; leave it out"},
    OwnHeader{"Content-Length", "it follows from the message; leave it out"},
    OwnHeader{"Transfer-Encoding", "it follows from the message; leave it out"},
};

// "\"a\"", "\"a\" and \"b\"", "\"a\", \"b\" and \"c\"".
std::string quoted_list(const std::vector<std::string_view>& words) {
  std::string text;
  for (std::size_t i = 0; i < words.size(); ++i) {
    if (i > 0) text += i + 1 == words.size() ? " and " : ", ";
    text += fmt::format("\"{}\"", words[i]);
  }
  return text;
}

void refuse_keys_of_others(Keys& keys, std::string_view kind) {
  for (const KeyOfKinds& one : keys_of_kinds()) {
    if (std::ranges::find(one.kinds, kind) != one.kinds.end()) continue;
    keys.refuse(one.key, fmt::format("is for {} {}; leave it out",
                                     one.kinds.size() == 1 ? "kind" : "kinds",
                                     quoted_list(one.kinds)));
  }
}

// Nothing when there is none, or a bad one, which is then a mistake.
std::optional<ServerAddress> read_address(Keys& keys, std::string_view key,
                                          const AddressForm& form, std::string& text) {
  keys.require(key, fmt::format("where to, such as {} = \"{}\"", key, form.example));
  const auto found = keys.text(key);
  if (!found) return std::nullopt;
  const auto address = server_address(*found, form);
  if (!address) {
    keys.mistake(key, address.error().message);
    return std::nullopt;
  }
  text = *found;
  return *address;
}

void check_mailbox(Keys& keys, std::string_view key, std::string_view mailbox) {
  if (is_mailbox(mailbox)) return;
  keys.mistake(key, fmt::format("\"{}\" is no e-mail address; write it bare, such as "
                                "\"anna@example.org\"",
                                escaped(mailbox)));
}

void check_encryption(Keys& keys, const RouteSettings& route,
                      const ServerAddress& server) {
  if (server.is_secure) {
    keys.refuse("encrypted", "is for smtp://; smtps:// always is; leave it out");
    return;
  }
  if (route.encrypted) return;
  keys.refuse("ca_file",
              "encrypted is false, so that nobody is to be trusted; leave one "
              "of the two out");
  if (keys.has("user") && !server.is_loopback()) {
    keys.mistake("encrypted",
                 "the password would go through the net for all to read; "
                 "leave this out, or user and password_file");
  }
}

// Whatever the capitals.
bool is_same_name(std::string_view one, std::string_view other) {
  const auto lowered = [](char c) {
    return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  };
  return std::ranges::equal(one, other, {}, lowered, lowered);
}

// Never shows a value: it may be a secret.
void check_header(Keys& keys, std::size_t number, std::string_view header) {
  const std::size_t colon = std::min(header.find(':'), header.size());
  const std::string_view name = header.substr(0, colon);
  const std::string_view value = header.substr(std::min(colon + 1, header.size()));
  const auto is_ascii = [](char c) { return c >= ' ' && c < '\x7f'; };
  if (!is_field_name(name) || !std::ranges::all_of(value, is_ascii) ||
      value.find_first_not_of(' ') == std::string_view::npos) {
    keys.mistake("headers", fmt::format("number {} is no header; write it as \"Name: "
                                        "value\", in plain ASCII",
                                        number));
    return;
  }
  const auto* own = std::ranges::find_if(
      kOwnHeaders, [name](const OwnHeader& one) { return is_same_name(one.name, name); });
  if (own == kOwnHeaders.end()) return;
  keys.mistake("headers", fmt::format("{} may not be given; {}", own->name, own->remedy));
}

void read_time_limit(Keys& keys, RouteSettings& route) {
  if (const auto limit = keys.duration("time_limit", kTimeLimit)) {
    route.time_limit = std::chrono::ceil<std::chrono::seconds>(*limit);
  }
}

// --- what each kind of routes.def has of its own

#define ROUTE(name, does) void read_##name(Keys& keys, RouteSettings& route);
#include "daemon/delivery/routes.def"
#undef ROUTE

void read_mqtt(Keys& keys, RouteSettings& route) {
  set(route.topic, keys.text("topic"));
  if (!is_valid_topic(route.topic)) {
    keys.mistake("topic", "has a wildcard; name one topic");
  }
}

void read_command(Keys& keys, RouteSettings& route) {
  keys.require("run",
               "the program and its arguments, such as [\"/usr/bin/wall\", \"-n\"]");
  const auto run = keys.list("run");
  set(route.run, run);
  if (run && run->empty()) {
    keys.mistake("run", "names no program; write it and its arguments as a list");
  }
  read_time_limit(keys, route);
}

void read_email(Keys& keys, RouteSettings& route) {
  const auto server = read_address(keys, "server", kMailServer, route.address);
  set(route.encrypted, keys.flag("encrypted"));
  set(route.user, keys.text("user"));
  set(route.password_file, keys.text("password_file"));
  set(route.ca_file, keys.text("ca_file"));
  if (server) check_encryption(keys, route, *server);
  if (keys.has("user") != keys.has("password_file")) {
    keys.mistake(keys.has("user") ? "user" : "password_file",
                 "user and password_file belong together; give both");
  }
  keys.require("from", "whom a letter is from, such as \"rimeward@example.org\"");
  set(route.from, keys.text("from"));
  if (!route.from.empty()) check_mailbox(keys, "from", route.from);
  keys.require("to", "whom it goes to, such as [\"anna@example.org\"]");
  const auto to = keys.list("to");
  set(route.to, to);
  if (to && to->empty()) keys.mistake("to", "names nobody; write one address or more");
  for (const std::string& mailbox : route.to)
    check_mailbox(keys, "to", mailbox);
  set(route.digest, keys.time_of_day("digest"));
  read_time_limit(keys, route);
}

void read_http(Keys& keys, RouteSettings& route) {
  const auto server = read_address(keys, "url", kWebAddress, route.address);
  if (const auto format = keys.choice("format", kFormats)) route.as_text = *format == 1;
  set(route.headers, keys.list("headers"));
  for (std::size_t i = 0; i < route.headers.size(); ++i)
    check_header(keys, i + 1, route.headers[i]);
  set(route.bearer_file, keys.text("bearer_file"));
  set(route.ca_file, keys.text("ca_file"));
  if (server && !server->is_secure) {
    keys.refuse("ca_file", "the url is http://, which encrypts nothing; write https://");
    if (!server->is_loopback()) {
      keys.refuse("bearer_file",
                  "the token would go through the net for all to read; "
                  "write https://");
    }
  }
  set(route.digest, keys.time_of_day("digest"));
  read_time_limit(keys, route);
}

struct KindOfRoute {
  std::string_view name;
  void (*read)(Keys& keys, RouteSettings& route);
};

constexpr std::array kKinds{
#define ROUTE(name, does) KindOfRoute{#name, &read_##name},
#include "daemon/delivery/routes.def"
#undef ROUTE
};

// --- what all routes have

std::optional<DailySpan> read_daily_span(Keys& keys, std::string_view key) {
  const auto text = keys.text(key);
  if (!text) return std::nullopt;
  const std::string_view words = *text;
  const std::size_t dash = std::min(words.find('-'), words.size());
  const auto from = time_of_day_from_text(words.substr(0, dash));
  const auto to = time_of_day_from_text(words.substr(std::min(dash + 1, words.size())));
  if (!from || !to) {
    keys.mistake(key, fmt::format("expected two times of day such as \"22:00-06:30\", "
                                  "got \"{}\"",
                                  escaped(words)));
    return std::nullopt;
  }
  if (*from == *to) {
    keys.mistake(key, "begins and ends at the same time; give two, or leave it out");
    return std::nullopt;
  }
  return DailySpan{.from = *from, .to = *to};
}

void read_choice_of_notices(Keys& keys, const Garden& garden, RouteSettings& route) {
  set(route.kinds_for, keys.list("for"));
  for (const std::string& notice : route.kinds_for) {
    if (std::ranges::find(kNoticeKinds, notice) != kNoticeKinds.end()) continue;
    keys.mistake("for", fmt::format("unknown kind of notice \"{}\"; known: {}{}",
                                    escaped(notice), fmt::join(kNoticeKinds, ", "),
                                    did_you_mean(notice, kNoticeKinds)));
  }
  set(route.places, keys.list("places"));
  for (const std::string& place : route.places) {
    check_place_is_known(keys, "places", place, garden);
  }
  route.quiet = read_daily_span(keys, "quiet");
}

}  // namespace

void read_route(Keys keys, Garden& garden) {
  std::vector<std::string_view> names;
  for (const KindOfRoute& kind : kKinds)
    names.push_back(kind.name);
  RouteSettings route;
  keys.require("kind", fmt::format("one of {}", fmt::join(names, ", ")));
  const auto kind = keys.choice("kind", names);
  read_choice_of_notices(keys, garden, route);
  // Without a kind nobody knows which of the other keys are right.
  if (!kind) return;
  route.kind = kKinds.at(*kind).name;
  kKinds.at(*kind).read(keys, route);
  refuse_keys_of_others(keys, route.kind);
  keys.refuse_unread();
  garden.routes.push_back(std::move(route));
}

}  // namespace rimeward
