#include "tools/cli/calibrate_check.h"

#include <algorithm>
#include <cmath>
#include <string>
#include <utility>
#include <vector>

#include <fmt/format.h>

#include "daemon/notice/words.h"
#include "tools/cli/calibrate_session.h"
#include "tools/cli/calibrate_store.h"
#include "tools/cli/calibrate_words.h"
#include "tools/cli/json_text.h"
#include "tools/cli/quantity.h"
#include "tools/cli/sensors_answer.h"
#include "tools/cli/words.h"

namespace rimeward {

using namespace std::chrono_literals;

const CheckMethod kIceCheck{.name = "ice",
                            .length = 2h,
                            .least = 0h,
                            .patience = 2h,
                            .goes_on_alone = false,
                            .limits = kSteadyInIce};
const CheckMethod kSaltCheck{.name = "salt",
                             .length = 30h,
                             .least = 6h,
                             .patience = 0h,
                             .goes_on_alone = true,
                             .limits = kSteadyOverSalt};

namespace {

using Json = nlohmann::ordered_json;

constexpr auto kLookEvery = 10s;
// Steady so many times further off than any sound sensor: it is not there yet.
constexpr double kElsewhere = 3;
constexpr std::string_view kSaltMethod = "salt ";
constexpr std::string_view kBetweenSalts = ", ";

SaidAndTrue rounded(const SaidAndTrue& point) {
  return {from_milli(to_milli(point.said)), from_milli(to_milli(point.known))};
}

// How the check stands: a correction, or why there is none yet.
struct Look {
  std::optional<FoundCorrection> found;
  std::string not_yet;
};

class Check {
 public:
  Check(const Context& context, const CheckPlan& plan)
      : session_(context), plan_(plan), unit_(context.garden.units) {}

  Reply run();

 private:
  const std::string& sensor() const { return plan_.sensor->id; }
  void begin();
  Look look() const;
  std::vector<TimedValue> said(Channel channel, Instant from, Instant to) const;
  Result<KnownValue> known_at(const SteadyValue& read) const;
  FoundCorrection found_in(const SteadyValue& read, const KnownValue& known) const;
  void join_earlier_salt(const CheckPoint& point, FoundCorrection& found) const;
  Reply settle(const FoundCorrection& found);
  Reply store(const FoundCorrection& found);
  Reply goes_on(std::string_view why, int status, Json details);
  Reply end(std::string_view why, int status, Json details);
  Json details(std::string_view state) const;
  std::string time_of(Instant at) const {
    return when_text(at, session_.now(), session_.context().zone);
  }

  Session session_;
  const CheckPlan& plan_;
  TemperatureUnit unit_;
  RunningCheck check_{};
};

void Check::begin() {
  const Store& store = session_.context().store;
  const auto running = running_check(store, sensor(), session_.now());
  // One of another length is of another method, or the time to settle after one.
  if (running && running->until - running->since == plan_.method->length) {
    check_ = *running;
    session_.tell(fmt::format("The check of {} goes on since {}, until {} at most.",
                              sensor(), time_of(check_.since), time_of(check_.until)));
    return;
  }
  check_ = {session_.now(), session_.now() + plan_.method->length};
  const std::vector<SeriesRow> series = series_of(store.all_series(), *plan_.sensor);
  session_.begin_check(
      sensor(), plan_.method->length,
      steps(session_.context(), plan_, check_, usual_gap_of(store, series)));
}

// Raw, as the sensor said it.
std::vector<TimedValue> Check::said(Channel channel, Instant from, Instant to) const {
  const Store& store = session_.context().store;
  const std::vector<SeriesRow> series = series_of(store.all_series(), *plan_.sensor);
  const auto row = std::ranges::find(series, channel, &SeriesRow::channel);
  std::vector<TimedValue> values;
  if (row == series.end()) return values;
  for (const DoubtfulRow& doubtful : store.doubtful(from, to + 1s)) {
    if (doubtful.series != row->id || doubtful.doubt != Doubt::kCalibration) continue;
    values.push_back({doubtful.time, doubtful.value});
  }
  return values;
}

Result<KnownValue> Check::known_at(const SteadyValue& read) const {
  if (plan_.salt == nullptr) return ice_point();
  if (plan_.at) return salt_humidity(*plan_.salt, *plan_.at, Kelvins{0});
  const auto temperatures = said(Channel::kAirTemperature, read.from, read.to);
  if (temperatures.empty()) {
    return refuse("it told no temperature meanwhile; say that of the jar with --at");
  }
  double mean = 0;
  for (const TimedValue& each : temperatures) {
    mean += each.value / static_cast<double>(temperatures.size());
  }
  const auto [low, high] = std::ranges::minmax(temperatures, {}, &TimedValue::value);
  return salt_humidity(*plan_.salt, Celsius{mean}, Kelvins{high.value - low.value});
}

// Of the points of an earlier correction above other salts, the one that lies furthest
// from this one makes the best line.
void Check::join_earlier_salt(const CheckPoint& point, FoundCorrection& found) const {
  if (!found.replaces || !found.replaces->method.starts_with(kSaltMethod)) return;
  std::string_view names = found.replaces->method;
  names.remove_prefix(kSaltMethod.size());
  double furthest = 0;
  for (const SaidAndTrue& earlier : points_from_json(found.replaces->points)) {
    const std::size_t end = std::min(names.find(kBetweenSalts), names.size());
    const Salt* salt = find_salt(names.substr(0, end));
    names.remove_prefix(std::min(end + kBetweenSalts.size(), names.size()));
    const double apart = std::abs(earlier.known - point.known);
    if (salt == nullptr || salt == plan_.salt || apart <= furthest) continue;
    const CheckPoint other{earlier.said, earlier.known, found.replaces->uncertainty / 2};
    const auto line = line_through(other, point, plan_.channel);
    if (!line) continue;
    furthest = apart;
    found.with_salt = salt->words;
    put_line(*line, found.row);
    found.row.method =
        fmt::format("{}{}{}{}", kSaltMethod, salt->name, kBetweenSalts, plan_.salt->name);
    const SaidAndTrue both[]{earlier, rounded({point.said, point.known})};
    found.row.points = points_json(both);
  }
}

FoundCorrection Check::found_in(const SteadyValue& read, const KnownValue& known) const {
  const CheckPoint point = check_point(read, known);
  const SaidAndTrue points[]{rounded({point.said, point.known})};
  FoundCorrection found;
  found.read = read;
  found.known = known;
  found.row.sensor = sensor();
  found.row.channel = plan_.channel;
  found.row.since = session_.now();
  put_line(offset_through(point), found.row);
  found.row.method = plan_.salt == nullptr
                         ? std::string(plan_.method->name)
                         : fmt::format("{}{}", kSaltMethod, plan_.salt->name);
  found.row.points = points_json(points);
  hold_against(session_.context(), *plan_.sensor, found);
  join_earlier_salt(point, found);
  return found;
}

Look Check::look() const {
  const auto values = said(plan_.channel, check_.since, session_.now());
  if (values.empty())
    return {.found = {}, .not_yet = "nothing was heard of it since the check began"};
  const TimedValue& newest = values.back();
  const std::string says =
      fmt::format("{} at {}; ", fine_quantity(plan_.channel, newest.value, unit_),
                  time_of(newest.at));
  if (newest.at - check_.since < plan_.method->least) {
    return {.found = {},
            .not_yet = says + fmt::format("in the jar for {} so far, at least {} are "
                                          "wanted",
                                          gap_text(newest.at - check_.since),
                                          gap_text(plan_.method->least))};
  }
  const auto read = steady(values, plan_.method->limits);
  if (!read) {
    return {.found = {}, .not_yet = says + words_for(read.error(), plan_, unit_)};
  }
  const auto known = known_at(*read);
  if (!known) return {.found = {}, .not_yet = says + known.error().message};
  FoundCorrection found = found_in(*read, *known);
  const double off = std::abs(read->mean - known->value);
  if (found.too_far && off > kElsewhere * *found.too_far) {
    return {
        .found = {},
        .not_yet = says + fmt::format("steady, but far from {}: is it in the {} yet?",
                                      fine_quantity(plan_.channel, known->value, unit_),
                                      plan_.salt == nullptr ? "ice" : "jar")};
  }
  return {.found = std::move(found), .not_yet = {}};
}

Json Check::details(std::string_view state) const {
  Json json{{"sensor", sensor()},
            {"channel", traits(plan_.channel).name},
            {"method", plan_.method->name}};
  if (plan_.salt != nullptr) json["salt"] = plan_.salt->name;
  json["state"] = state;
  json["check_since"] = json_of(std::optional(check_.since));
  json["check_until"] = json_of(std::optional(check_.until));
  return json;
}

Reply Check::goes_on(std::string_view why, int status, Json details) {
  details["why"] = why;
  const std::string text = fmt::format(
      "{}. The check goes on until {}. Look again with `{}`, or end it with `rimeward "
      "calibrate {} stop`.",
      why, time_of(check_.until), command_for(plan_), sensor());
  return session_.answer(status, text, details);
}

Reply Check::end(std::string_view why, int status, Json details) {
  details["why"] = why;
  session_.check_for(sensor(), kSettling);
  const std::string text = fmt::format(
      "{}. The check is over and nothing is stored. Put the sensor back: what it says "
      "counts again from {} on.",
      why, time_of(session_.now() + kSettling));
  return session_.answer(status, text, details);
}

Reply Check::store(const FoundCorrection& found) {
  const std::string text = fmt::format(
      "Stored, and in force from now on. Put the sensor back: what it says counts again "
      "from {} on.",
      time_of(session_.now() + kSettling));
  Json document = details("stored");
  document.update(json_of(found));
  Reply reply = session_.correct(found.row, text, document);
  session_.check_for(sensor(), kSettling);
  return reply;
}

Reply Check::settle(const FoundCorrection& found) {
  const Decision decision =
      decide(session_, found, {.yes = plan_.yes, .anyway = plan_.anyway});
  Json document = details(decision == Decision::kTooFar ? "too far off" : "steady");
  document.update(json_of(found));
  switch (decision) {
    case Decision::kStore:
      return store(found);
    case Decision::kLeave:
      return end("As you wish", 0, document);
    case Decision::kTooFar:
      return goes_on(
          fmt::format("Nothing is stored; `{} --yes --anyway` would", command_for(plan_)),
          1, document);
    case Decision::kNobodyAsked:
      break;
  }
  return goes_on(
      fmt::format("Nothing is stored yet; `{} --yes` does", command_for(plan_)), 0,
      document);
}

Reply Check::run() {
  begin();
  const Instant give_up =
      session_.now() + plan_.patience.value_or(plan_.method->patience);
  std::string told;
  while (true) {
    const Look now = look();
    if (now.found) return settle(*now.found);
    if (session_.now() >= check_.until)
      return end("Its time is over", 1, details("over"));
    const std::string why = fmt::format("Not settled yet: {}", now.not_yet);
    if (!session_.can_wait()) return goes_on(why, 0, details("waiting"));
    if (session_.now() >= give_up) {
      return plan_.method->goes_on_alone ? goes_on(why, 0, details("waiting"))
                                         : end(why, 1, details("over"));
    }
    if (now.not_yet != told) session_.tell(sentence(now.not_yet));
    told = now.not_yet;
    if (!session_.wait(kLookEvery)) {
      return plan_.method->goes_on_alone ? goes_on("Left alone", 0, details("waiting"))
                                         : end("Interrupted", 1, details("interrupted"));
    }
  }
}

}  // namespace

Reply run_check(const Context& context, const CheckPlan& plan) {
  return Check(context, plan).run();
}

}  // namespace rimeward
