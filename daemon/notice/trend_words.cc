#include "daemon/notice/trend_words.h"

namespace rimeward {
namespace {

std::string reading_text(const Wording& wording, const Trend& going) {
  return wording.say(Phrase::kReading, fmt::arg("air", wording.text_of(going.air)),
                     fmt::arg("time", wording.time(going.at)));
}

}  // namespace

std::string falling_text(const Wording& wording, const Trend& going) {
  if (going.per_hour >= Kelvins{0}) return reading_text(wording, going);
  const Kelvins fall{-going.per_hour.degrees};
  return wording.say(Phrase::kReadingFalling, fmt::arg("air", wording.text_of(going.air)),
                     fmt::arg("time", wording.time(going.at)),
                     fmt::arg("fall", wording.text_of(fall)));
}

std::string rising_text(const Wording& wording, const Trend& going) {
  if (going.per_hour <= Kelvins{0}) return reading_text(wording, going);
  return wording.say(Phrase::kReadingRising, fmt::arg("air", wording.text_of(going.air)),
                     fmt::arg("time", wording.time(going.at)),
                     fmt::arg("rise", wording.text_of(going.per_hour)));
}

}  // namespace rimeward
