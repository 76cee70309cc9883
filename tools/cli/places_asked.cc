#include "tools/cli/places_asked.h"

#include "tools/cli/words.h"

namespace rimeward {

Result<std::vector<const Place*>> places_asked(const Context& context,
                                               const Arguments& arguments) {
  std::vector<const Place*> places;
  if (const auto word = arguments.text("--place")) {
    const auto place = find_place(context.garden, *word);
    if (!place) return tl::unexpected(place.error());
    places.push_back(*place);
  } else {
    for (const Place& place : context.garden.places)
      places.push_back(&place);
  }
  return places;
}

}  // namespace rimeward
