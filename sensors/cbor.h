// CBOR, RFC 8949, read into the same document as JSON. Bounded in size and depth whatever
// the bytes say of themselves, and never throws for what they hold. Pure.
//
// Of this folder's .cc files only, as sensors/json_document.h.

#pragma once

#include <string_view>

#include <nlohmann/json.hpp>

#include "sensors/result.h"

namespace rimeward {

// The one value that `bytes` are. Keys of maps may be texts or integers, which become
// texts ("-2"); a decimal fraction (tag 4) becomes the number that it is, other tags are
// passed over, undefined is null and a byte string a text of these bytes. NaN and the
// infinities come as they are.
//
// Refused: an empty or too large payload (sensors/decoders.h), more than 32 values within
// one another, bytes missing or left over, strings in pieces, a key twice (section 5.6:
// not valid), and keys of other kinds.
Result<nlohmann::json> parsed_cbor(std::string_view bytes);

}  // namespace rimeward
