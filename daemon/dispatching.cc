#include "daemon/dispatching.h"

#include <cstdint>
#include <string>

#include <fmt/format.h>

#include "daemon/letters.h"
#include "daemon/notice/notice_json.h"
#include "daemon/notice/notice_text.h"

namespace rimeward {
namespace {

// The rows of a digest as one number (FNV-1a of 32 bits: Fowler, Noll and Vo; from
// memory).
std::uint32_t sum_of(const Parcel& parcel) {
  std::uint32_t sum = 0x811c9dc5;
  for (const Parcel::Item& item : parcel.items) {
    for (int shift = 0; shift < 64; shift += 8) {
      sum =
          (sum ^ (static_cast<std::uint32_t>(item.row.id >> shift) & 0xff)) * 0x01000193;
    }
  }
  return sum;
}

// A store that is made anew counts from 1 again: the time tells such tellings apart.
std::string id_of(const Parcel& parcel) {
  const Parcel::Item& first = parcel.items.front();
  const std::int64_t raised = first.notice.raised_at.time_since_epoch().count();
  if (parcel.items.size() == 1) return fmt::format("{}-{}", first.row.id, raised);
  return fmt::format("{}-{}-{:08x}", first.row.id, raised, sum_of(parcel));
}

// None where the store cannot be read: a letter without it is better than no letter.
std::optional<WeekChart> chart_for(const NoticeRow& notice, const Garden& garden,
                                   const Wording& wording, const Store& store) {
  if (notice.kind != kSundayLetter) return std::nullopt;
  try {
    return week_chart(store, garden, wording.zone(), wording, notice.raised_at);
  } catch (const StoreError&) {
    return std::nullopt;
  }
}

}  // namespace

Dispatch dispatch_of(const Parcel& parcel, const Garden& garden, const Wording& wording,
                     const Store& store) {
  Dispatch dispatch{
      .route = parcel.route, .tellings = {}, .id = id_of(parcel), .chart = {}};
  for (const auto& [row, notice] : parcel.items) {
    dispatch.tellings.push_back(
        {.outbox = row.id,
         .event = row.event,
         .notice = notice,
         .place_name = place_name(notice, garden),
         .headline = told_headline(notice, row.event, wording),
         .json = notice_json(notice, garden, wording.zone(),
                             TellingMarks{.event = row.event, .message = dispatch.id})});
    if (!dispatch.chart) dispatch.chart = chart_for(notice, garden, wording, store);
  }
  return dispatch;
}

}  // namespace rimeward
