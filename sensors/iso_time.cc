#include "sensors/iso_time.h"

#include <fmt/format.h>

namespace rimeward {
namespace {

constexpr bool is_digit(char letter) {
  return letter >= '0' && letter <= '9';
}

// Takes a text apart from the front. After the first thing that is not as expected it
// fails and stays failed.
class Scanner {
 public:
  explicit Scanner(std::string_view text) : rest_(text) {}

  bool failed() const { return failed_; }
  bool at_end() const { return rest_.empty(); }

  // Exactly so many digits, read as a number within the limits.
  int digits(std::size_t count, int least, int most) {
    if (rest_.size() < count) return fail();
    int value = 0;
    for (const char letter : rest_.substr(0, count)) {
      if (!is_digit(letter)) return fail();
      value = value * 10 + (letter - '0');
    }
    rest_.remove_prefix(count);
    return value >= least && value <= most ? value : fail();
  }

  // The next character if it is one of `letters`, else 0.
  char take(std::string_view letters) {
    if (rest_.empty() || letters.find(rest_.front()) == std::string_view::npos) return 0;
    const char taken = rest_.front();
    rest_.remove_prefix(1);
    return taken;
  }

  char expect(std::string_view letters) {
    const char taken = take(letters);
    if (taken == 0) fail();
    return taken;
  }

  void expect_digits() {
    if (rest_.empty() || !is_digit(rest_.front())) fail();
    while (!rest_.empty() && is_digit(rest_.front())) {
      rest_.remove_prefix(1);
    }
  }

  bool next_is_digit() const { return !rest_.empty() && is_digit(rest_.front()); }

 private:
  int fail() {
    failed_ = true;
    return 0;
  }

  std::string_view rest_;
  bool failed_ = false;
};

std::chrono::year_month_day scan_date(Scanner& scanner) {
  const int year = scanner.digits(4, 0, 9999);
  scanner.expect("-");
  const auto month = static_cast<unsigned>(scanner.digits(2, 1, 12));
  scanner.expect("-");
  const auto day = static_cast<unsigned>(scanner.digits(2, 1, 31));
  return std::chrono::year{year} / std::chrono::month{month} / std::chrono::day{day};
}

std::chrono::seconds scan_time_of_day(Scanner& scanner) {
  const std::chrono::hours hours{scanner.digits(2, 0, 23)};
  scanner.expect(":");
  const std::chrono::minutes minutes{scanner.digits(2, 0, 59)};
  std::chrono::seconds seconds{0};
  if (scanner.take(":") != 0) {
    seconds = std::chrono::seconds{scanner.digits(2, 0, 60)};
    if (scanner.take(".,") != 0) scanner.expect_digits();
  }
  return hours + minutes + seconds;
}

std::chrono::minutes scan_offset(Scanner& scanner) {
  if (scanner.take("Zz") != 0) return std::chrono::minutes{0};
  const char sign = scanner.expect("+-");
  const std::chrono::hours hours{scanner.digits(2, 0, 23)};
  std::chrono::minutes minutes{0};
  if (scanner.take(":") != 0 || scanner.next_is_digit()) {
    minutes = std::chrono::minutes{scanner.digits(2, 0, 59)};
  }
  return sign == '-' ? -(hours + minutes) : hours + minutes;
}

}  // namespace

std::optional<Instant> parse_instant(std::string_view text) {
  Scanner scanner(text);
  const std::chrono::year_month_day date = scan_date(scanner);
  scanner.expect("Tt ");
  const std::chrono::seconds time = scan_time_of_day(scanner);
  const std::chrono::minutes offset = scan_offset(scanner);
  if (scanner.failed() || !scanner.at_end() || !date.ok()) return std::nullopt;
  const Instant at = std::chrono::sys_days(date) + time - offset;
  // An offset may lead out of the years that four digits can write.
  if (at < kFirstInstant || at >= kEndOfInstants) return std::nullopt;
  return at;
}

std::string format_utc(Instant at) {
  const auto midnight = std::chrono::floor<std::chrono::days>(at);
  const std::chrono::year_month_day date = midnight;
  const std::chrono::hh_mm_ss time(at - midnight);
  return fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}:{:02}Z",
                     static_cast<int>(date.year()), static_cast<unsigned>(date.month()),
                     static_cast<unsigned>(date.day()), time.hours().count(),
                     time.minutes().count(), time.seconds().count());
}

}  // namespace rimeward
