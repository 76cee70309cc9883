// English: the manner of it. Its phrases stand in phrases.def, beside their names.

#include "daemon/base/text.h"
#include "daemon/base/zone.h"
#include "daemon/notice/language.h"

namespace rimeward {
namespace {

// As the terminal writes it.
std::string date(std::chrono::year_month_day day) {
  return date_text(day);
}

}  // namespace

constinit const LanguageTable kEnglish{
    .code = "en",
    .phrases = phrases_of({
#define PHRASE(name, english) {Phrase::k##name, english},
#include "daemon/notice/phrases.def"
#undef PHRASE
    }),
    .decimal_mark = ".",
    .weekdays = {"Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"},
    .date = &date,
    .place = &in_sentence,
};

}  // namespace rimeward
