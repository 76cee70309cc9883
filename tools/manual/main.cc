// rimeward-manual: writes one of the manual pages to stdout, as roff. Exit 0 done, 1
// could not, 2 misuse.
//
//   rimeward-manual rimeward.1 EVENING        EVENING: a dialogue at the terminal
//   rimeward-manual rimewardd.8
//   rimeward-manual rimeward.toml.5 GARDEN    GARDEN: config/garden.toml

#include <cstdio>
#include <exception>
#include <fstream>
#include <iterator>
#include <optional>
#include <string>
#include <string_view>

#include <fmt/format.h>

#include "tools/manual/pages.h"

namespace {

// Nothing where it cannot be read.
std::optional<std::string> text_of(const char* file) {
  std::ifstream stream(file, std::ios::binary);
  if (!stream) return std::nullopt;
  return std::string(std::istreambuf_iterator<char>(stream), {});
}

int misuse() {
  fmt::print(stderr,
             "rimeward-manual: expected rimeward.1 EVENING, rimewardd.8 or "
             "rimeward.toml.5 GARDEN\n");
  return 2;
}

int run(int argc, char** argv) {
  const std::string_view page = argc > 1 ? argv[1] : "";
  std::string roff;
  if (page == "rimewardd.8" && argc == 2) {
    roff = rimeward::page_of_daemon();
  } else if ((page == "rimeward.1" || page == "rimeward.toml.5") && argc == 3) {
    const auto text = text_of(argv[2]);
    if (!text) {
      fmt::print(stderr, "rimeward-manual: {}: cannot be read\n", argv[2]);
      return 1;
    }
    roff = page == "rimeward.1" ? rimeward::page_of_terminal(*text)
                                : rimeward::page_of_settings(*text);
  } else {
    return misuse();
  }
  std::fwrite(roff.data(), 1, roff.size(), stdout);
  return std::fflush(stdout) == 0 ? 0 : 1;
}

}  // namespace

int main(int argc, char** argv) {
  try {
    return run(argc, argv);
  } catch (const std::exception& error) {
    fmt::print(stderr, "rimeward-manual: {}\n", error.what());
    return 1;
  }
}
