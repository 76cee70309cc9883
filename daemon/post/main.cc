// rimeward-post: carries one message, as daemon/post/job.h says, and ends.
//
// It runs no shell and has no settings of its own. The clock is read for the Date of a
// letter alone.

#include <chrono>
#include <csignal>
#include <cstdlib>
#include <exception>
#include <iostream>
#include <iterator>
#include <string>
#include <string_view>
#include <variant>

#include <sysexits.h>

#include "daemon/post/job.h"
#include "daemon/post/mail.h"
#include "daemon/post/picture.h"
#include "daemon/post/transfer.h"

namespace rimeward {
namespace {

Result<std::string> carry(const EmailJob& job) {
  const Letter& letter = job.letter;
  // Without a picture if it cannot be drawn: the words say the same.
  const auto picture = letter.chart ? week_picture(*letter.chart) : std::nullopt;
  const auto now =
      std::chrono::floor<std::chrono::seconds>(std::chrono::system_clock::now());
  return send_mail(job, mail_message(job, picture, now));
}

Result<std::string> carry(const HttpJob& job) {
  return send_post(job).map([] { return std::string{}; });
}

int run(std::string_view input) {
  const auto job = job_from_json(input);
  if (!job) {
    std::cerr << "no job: " << job.error().message << '\n';
    return EX_USAGE;
  }
  const auto carried = std::visit([](const auto& one) { return carry(one); }, *job);
  if (!carried) {
    std::cerr << carried.error().message << '\n';
    return EX_TEMPFAIL;
  }
  if (!carried->empty()) std::cerr << *carried << '\n';
  return EXIT_SUCCESS;
}

}  // namespace
}  // namespace rimeward

int main(int argc, char** argv) {
  if (argc == 2 && std::string_view(argv[1]) == "--version") {
    std::cout << RIMEWARD_VERSION << '\n';
    return EXIT_SUCCESS;
  }
  if (argc > 1) {
    std::cerr << "usage: rimeward-post <job.json, or --version\n";
    return EX_USAGE;
  }
  std::signal(SIGPIPE, SIG_IGN);
  try {
    const std::string input{std::istreambuf_iterator<char>(std::cin), {}};
    return rimeward::run(input);
  } catch (const std::exception& error) {
    std::cerr << "rimeward-post: " << error.what() << '\n';
    return EX_TEMPFAIL;
  }
}
