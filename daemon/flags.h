// The command line of rimewardd: what each flag is called, takes and does, and the reader
// of all of them. No locking; reads nothing but its arguments.

#pragma once

#include <chrono>
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include <tl/expected.hpp>

#include "daemon/base/garden.h"

namespace rimeward {

struct Flags {
  std::string config = "/etc/rimeward/garden.toml";
  std::string store;  // empty: as the settings say
  std::string clock = "system";
  bool check = false;
  bool routes = false;
  // Present: it is to listen for so long, and be no daemon.
  std::optional<std::chrono::seconds> listen;
  // For listening: only address, user, password_file, ca_file and listen count.
  Broker broker;
};

// A flag as it is explained. A gardener's manual and --help print these.
struct FlagHelp {
  std::string_view name;   // "--config"
  std::string_view value;  // "FILE": what follows it; empty: a switch
  std::string_view help;
};

// In the order in which they are best read. Good for the program's life.
std::span<const FlagHelp> all_flags();

// What was said instead of flags that can be run with: the text of --help or --version,
// or what is wrong and what to write.
struct FlagsEnd {
  int status = 0;    // 0: asked for; 2: misuse
  std::string text;  // for stdout, or for stderr where it is a misuse; with its newline
};

tl::expected<Flags, FlagsEnd> read_flags(int argc, const char* const* argv);

}  // namespace rimeward
