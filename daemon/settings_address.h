// What addresses and names of the net must look like in the settings. Pure. Internal to
// daemon/settings*.cc.

#pragma once

#include <string>
#include <string_view>

#include "sensors/result.h"

namespace rimeward {

// How the address of one kind of server is written.
struct AddressForm {
  std::string_view plain;        // "smtp://"
  std::string_view secure;       // "smtps://"
  bool has_path;                 // whether anything may follow the host and port
  std::string_view example;      // a good one
  std::string_view user_remedy;  // what to do instead of putting a user into it
};

struct ServerAddress {
  bool is_secure = false;
  std::string host;  // "mail.example.org", "192.0.2.7" or "[2001:db8::7]"

  // Whether what is sent there stays on this machine.
  bool is_loopback() const;
};

// Refuses what is not of the form, or has a user in it. The error never shows the
// address, for it may hold a secret. Of URLs (RFC 3986) only what a server of one's own
// needs: ASCII, a host's name or number, a port from 1 to 65535.
Result<ServerAddress> server_address(std::string_view text, const AddressForm& form);

// A mailbox of RFC 5321, section 4.1.2, as people have them: "anna@example.org", without
// quoted strings, address literals and letters beyond ASCII.
bool is_mailbox(std::string_view text);

// The name of an HTTP header: a token of RFC 9110, section 5.6.2.
bool is_field_name(std::string_view text);

}  // namespace rimeward
