// A value, or an Error that says why there is none: for failures that good code must
// expect, such as a payload, a settings file or a command line. A broken machine (disk,
// database) throws instead.

#pragma once

#include <string>
#include <utility>

#include <tl/expected.hpp>

namespace rimeward {

struct Error {
  std::string message;  // lower case, no full stop: ready for "<context>: <message>"
};

template <class T>
using Result = tl::expected<T, Error>;

inline tl::unexpected<Error> refuse(std::string message) {
  return tl::unexpected(Error{std::move(message)});
}

}  // namespace rimeward
