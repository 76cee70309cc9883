// Route `email`: a letter by SMTP, which the program rimeward-post carries.

#include <utility>

#include "daemon/delivery/posting.h"
#include "daemon/delivery/routes.h"

namespace rimeward {
namespace {

class EmailRoute : public Route {
 public:
  EmailRoute(const RouteSettings& settings, const Outside& outside)
      : program_(outside.post_program) {
    job_.address = settings.address;
    job_.ca_file = settings.ca_file;
    job_.encrypted = settings.encrypted;
    job_.user = settings.user;
    job_.password_file = settings.password_file;
    job_.garden = outside.garden;
    job_.from = settings.from;
    job_.to = settings.to;
    job_.time_limit = settings.time_limit;
  }

  Outcome deliver(const Dispatch& dispatch, std::stop_token stop) override {
    EmailJob job = job_;
    job.letter = letter_of(dispatch);
    return outcome_of(program_, job, job_.time_limit, stop);
  }

 private:
  static Letter letter_of(const Dispatch& dispatch) {
    Letter letter;
    letter.id = dispatch.id;
    letter.subject = subject_of(dispatch);
    for (const Telling& telling : dispatch.tellings)
      letter.sections.push_back({telling.headline, telling.notice.body});
    letter.chart = dispatch.chart;
    return letter;
  }

  const std::filesystem::path program_;
  EmailJob job_;  // but for the letter
};

}  // namespace

std::unique_ptr<Route> make_route_email(const RouteSettings& settings,
                                        const Outside& outside) {
  return std::make_unique<EmailRoute>(settings, outside);
}

}  // namespace rimeward
