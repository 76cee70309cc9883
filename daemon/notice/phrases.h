// What a notice can say: a name for each phrase, to be filled by a Wording.
//
// phrases.def lists them with their English. Places to fill stand in braces and have
// names, {place}, so that another language can put them in its own order.

#pragma once

#include <cstddef>

namespace rimeward {

enum class Phrase {
#define PHRASE(name, english) k##name,
#include "daemon/notice/phrases.def"
#undef PHRASE
};

inline constexpr std::size_t kPhraseCount = 0
#define PHRASE(name, english) +1
#include "daemon/notice/phrases.def"
#undef PHRASE
    ;

}  // namespace rimeward
