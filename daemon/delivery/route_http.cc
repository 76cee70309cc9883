// Route `http`: a POST of the notice as JSON, as it stands on the broker, or as its
// words. The program rimeward-post carries it.
//
// A digest is {"id": "...", "notices": [...]}, its id that of the header Idempotency-Key,
// or the words of all.

#include <fmt/format.h>

#include "daemon/delivery/posting.h"
#include "daemon/delivery/routes.h"

namespace rimeward {
namespace {

std::string words_of(const Dispatch& dispatch) {
  std::string words;
  for (const Telling& telling : dispatch.tellings) {
    if (!words.empty()) words += "\n";
    words += fmt::format("{}\n\n{}\n", telling.headline, telling.notice.body);
  }
  return words;
}

std::string json_of(const Dispatch& dispatch) {
  if (dispatch.tellings.size() == 1) return dispatch.tellings.front().json;
  std::string notices;
  for (const Telling& telling : dispatch.tellings) {
    if (!notices.empty()) notices += ",";
    notices += telling.json;
  }
  // The id is of letters, digits, "-" and ".": nothing in it wants escaping.
  return fmt::format(R"({{"id":"{}","notices":[{}]}})", dispatch.id, notices);
}

class HttpRoute : public Route {
 public:
  HttpRoute(const RouteSettings& settings, const Outside& outside)
      : program_(outside.post_program), as_text_(settings.as_text) {
    job_.address = settings.address;
    job_.ca_file = settings.ca_file;
    job_.headers = settings.headers;
    job_.bearer_file = settings.bearer_file;
    job_.content_type = as_text_ ? "text/plain; charset=utf-8" : "application/json";
    job_.time_limit = settings.time_limit;
  }

  Outcome deliver(const Dispatch& dispatch, std::stop_token stop) override {
    HttpJob job = job_;
    job.id = dispatch.id;
    job.content = as_text_ ? words_of(dispatch) : json_of(dispatch);
    return outcome_of(program_, job, job_.time_limit, stop);
  }

 private:
  const std::filesystem::path program_;
  const bool as_text_;
  HttpJob job_;  // but for what it carries
};

}  // namespace

std::unique_ptr<Route> make_route_http(const RouteSettings& settings,
                                       const Outside& outside) {
  return std::make_unique<HttpRoute>(settings, outside);
}

}  // namespace rimeward
