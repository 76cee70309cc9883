#include "daemon/store/rows.h"

#include <cstdlib>

namespace rimeward {

std::string_view name_of(NoticeState state) {
  switch (state) {
    case NoticeState::kRaised:
      return "raised";
    case NoticeState::kDelivered:
      return "delivered";
    case NoticeState::kDone:
      return "done";
    case NoticeState::kOvertaken:
      return "overtaken";
    case NoticeState::kLapsed:
      return "lapsed";
    case NoticeState::kTold:
      return "told";
  }
  std::abort();
}

}  // namespace rimeward
