// What `rimeward chart` is asked: the words of its command line as places, a channel and
// a span. Pure but for the store's list of series.

#pragma once

#include <string>
#include <vector>

#include "sensors/channel.h"
#include "sensors/result.h"
#include "tools/cli/verb.h"
#include "tools/draw/chart.h"

namespace rimeward {

struct ChartQuestion {
  // In the order asked for, each once; without any asked for, those of the garden that
  // have the channel. Good as long as the garden.
  std::vector<const Place*> places;
  std::size_t left_out = 0;  // that have the channel too, where none was asked for
  Channel channel = Channel::kAirTemperature;
  Chart::Span span{};  // ends at the garden's now at the latest; never empty
};

// Of more the curves could not be told apart.
inline constexpr std::size_t kMostChartPlaces = 12;

// By PLACE, --channel, --days, --from and --to. Without --from and --to the span is the
// last days up to now, by the clock on the wall; with one of them it is whole dates, from
// midnight to midnight, and of today what has passed. Refused: a place or channel that
// there is none of, with the nearest; a span that ends before it begins, is still to
// come, or longer than a century.
Result<ChartQuestion> chart_question(const Context& context, const Arguments& arguments);

// "air temperature", "soil moisture".
std::string chart_words(Channel channel);

}  // namespace rimeward
