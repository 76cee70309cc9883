// Why a connection to the broker could not be made, in words that say what to do; and the
// files that it needs, read before Paho would fail on them without saying so. Pure but
// for reading those files.

#pragma once

#include <string>
#include <string_view>

#include "daemon/base/garden.h"
#include "daemon/ingest/mqtt_link.h"
#include "sensors/result.h"

namespace rimeward {

bool is_secure(std::string_view address);  // mqtts:// or ssl://

// A person must act.
LinkEvent refused(std::string text);

// What a failed connection means, from its MQTT 3.1.1 return code; any other number is
// one of Paho's own.
LinkEvent connect_trouble(const Broker& broker, int return_code);

// The first line; an empty password where no file is named.
Result<std::string> read_password(const std::string& file);

// Whether certificate authority, certificate and key can be read, where they are named.
Result<void> check_tls_files(const Broker& broker);

}  // namespace rimeward
