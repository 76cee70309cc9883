#include "tools/draw/chart_json.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <optional>
#include <utility>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "sensors/escape.h"

namespace rimeward {
namespace {

using Json = nlohmann::ordered_json;

// Three centuries either way, so that no sum of two can overflow.
constexpr std::int64_t kFurthest = 10'000'000'000;

std::int64_t seconds_of(Instant at) {
  return at.time_since_epoch().count();
}

template <class Items, class Write>
Json list_of(const Items& items, Write write) {
  Json list = Json::array();
  for (const auto& item : items)
    list.push_back(write(item));
  return list;
}

Json span_json(const Chart::Span& span) {
  return {{"from", seconds_of(span.from)}, {"to", seconds_of(span.to)}};
}

Json point_json(const Chart::Point& point) {
  return Json::array({seconds_of(point.at), point.low, point.high});
}

Json piece_json(const std::vector<Chart::Point>& piece) {
  return list_of(piece, point_json);
}

Json cover_json(const Chart::Cover& cover) {
  Json json = span_json(cover.span);
  json["layers"] = cover.layers;
  return json;
}

Json line_json(const Chart::Line& line) {
  return {{"place", line.place},
          {"pieces", list_of(line.pieces, piece_json)},
          {"keep_above", line.keep_above ? Json(*line.keep_above) : Json()},
          {"covers", list_of(line.covers, cover_json)}};
}

Json mark_json(const Chart::Mark& mark) {
  return {{"at", seconds_of(mark.at)}, {"text", mark.text}};
}

Json tick_json(const Chart::Tick& tick) {
  return {{"at", seconds_of(tick.at)}, {"label", tick.label}, {"is_day", tick.is_day}};
}

// What all readers of one chart share.
struct Progress {
  std::string fault;  // the first one; empty while there is none
  std::size_t points = 0;
};

// One value and where it stands. Of a value that is missing, of another kind or beyond
// the limits it gives an empty one, and notes the first such fault. It refers to the
// reader of the value around it, and must not outlive that one.
class Reader {
 public:
  Reader(const Json& value, Progress& progress) : value_(value), progress_(progress) {}
  Reader(const Reader&) = delete;
  Reader& operator=(const Reader&) = delete;

  Reader at(const char* key) const {
    static const Json kNone;
    const auto found = value_.is_object() ? value_.find(key) : value_.end();
    return {found == value_.end() ? kNone : *found, *this, key, 0};
  }
  Reader item(std::size_t index) const { return {value_[index], *this, "", index}; }

  bool is_null() const { return value_.is_null(); }
  bool is_faulty() const { return !progress_.fault.empty(); }

  bool is_list_of(std::size_t size) const {
    return value_.is_array() && value_.size() == size;
  }

  std::string text() const {
    if (!value_.is_string()) {
      expected("text");
      return {};
    }
    const auto& text = value_.get_ref<const std::string&>();
    if (text.size() > ChartLimits::kTextBytes) {
      expected(fmt::format("text of at most {} bytes", ChartLimits::kTextBytes));
    }
    return text;
  }

  bool flag() const {
    if (value_.is_boolean()) return value_.get<bool>();
    expected("true or false");
    return false;
  }

  std::int64_t whole(std::int64_t least, std::int64_t most, std::string_view what) const {
    // What is beyond 64 bits signed is a number of its own kind, and must not wrap.
    const bool is_whole =
        value_.is_number_integer() &&
        (!value_.is_number_unsigned() || value_.get<std::uint64_t>() <= INT64_MAX);
    const auto number = is_whole ? value_.get<std::int64_t>() : least;
    if (is_whole && number >= least && number <= most) return number;
    expected(fmt::format("{}, {} to {}", what, least, most));
    return least;
  }

  Instant instant() const {
    return Instant{std::chrono::seconds{
        whole(-kFurthest, kFurthest, "a time in whole seconds since 1970")}};
  }

  double number() const {
    const double number = value_.is_number() ? value_.get<double>() : NAN;
    // So that what is not a number is none of the two, either.
    if (std::abs(number) <= ChartLimits::kValue) return number;
    expected(fmt::format("a number, {:.0f} to {:.0f}", -ChartLimits::kValue,
                         ChartLimits::kValue));
    return 0;
  }

  // Ends at the first fault.
  template <class Item>
  std::vector<Item> list(std::size_t most, Item (*read)(const Reader&)) const {
    std::vector<Item> items;
    if (!value_.is_array() || value_.size() > most) {
      expected(fmt::format("a list of at most {}", most));
      return items;
    }
    items.reserve(value_.size());
    for (std::size_t i = 0; i < value_.size() && !is_faulty(); ++i)
      items.push_back(read(item(i)));
    return items;
  }

  // Whether there is room for that many points more; counts them.
  void count_points(std::size_t more) const {
    progress_.points += more;
    if (progress_.points <= ChartLimits::kPoints) return;
    expected(fmt::format("at most {} points in all", ChartLimits::kPoints));
  }

  void expected(std::string_view what) const {
    if (is_faulty()) return;
    progress_.fault =
        fmt::format("{}: expected {}, found {}", path(), what, escaped(found()));
  }

 private:
  Reader(const Json& value, const Reader& around, const char* key, std::size_t index)
      : value_(value),
        progress_(around.progress_),
        around_(&around),
        key_(key),
        index_(index) {}

  // Made only where it is told: a chart has many thousand values.
  std::string path() const {
    if (!around_) return "chart";
    if (*key_ == '\0') return fmt::format("{}[{}]", around_->path(), index_);
    return around_->around_ ? fmt::format("{}.{}", around_->path(), key_) : key_;
  }

  std::string found() const {
    if (value_.is_string()) return value_.get<std::string>();
    if (value_.is_null()) return "nothing";
    if (value_.is_array()) return fmt::format("a list of {}", value_.size());
    return value_.is_object() ? "an object" : value_.dump();
  }

  const Json& value_;
  Progress& progress_;
  const Reader* around_ = nullptr;
  const char* key_ = "";
  std::size_t index_ = 0;
};

template <class Items, class When>
void check_order(const Reader& reader, const Items& items, When when) {
  if (!std::ranges::is_sorted(items, {}, when)) reader.expected("order of time");
}

Chart::Span span_of(const Reader& reader) {
  const Chart::Span span{.from = reader.at("from").instant(),
                         .to = reader.at("to").instant()};
  if (span.to < span.from) reader.at("to").expected("no time before \"from\"");
  return span;
}

Chart::Point point_of(const Reader& reader) {
  if (!reader.is_list_of(3)) {
    reader.expected("[at, low, high]");
    return {};
  }
  const Chart::Point point{.at = reader.item(0).instant(),
                           .low = reader.item(1).number(),
                           .high = reader.item(2).number()};
  if (point.high < point.low) reader.item(2).expected("no high below the low");
  return point;
}

std::vector<Chart::Point> piece_of(const Reader& reader) {
  auto piece = reader.list(ChartLimits::kPoints, point_of);
  reader.count_points(piece.size());
  if (piece.empty()) reader.expected("at least one point");
  check_order(reader, piece, &Chart::Point::at);
  return piece;
}

Chart::Cover cover_of(const Reader& reader) {
  return {.span = span_of(reader),
          .layers = static_cast<int>(
              reader.at("layers").whole(1, ChartLimits::kLayers, "whole layers"))};
}

Chart::Line line_of(const Reader& reader) {
  Chart::Line line{.place = reader.at("place").text(),
                   .pieces = reader.at("pieces").list(ChartLimits::kPoints, piece_of)};
  for (std::size_t i = 1; i < line.pieces.size() && !reader.is_faulty(); ++i) {
    if (line.pieces[i].front().at < line.pieces[i - 1].back().at) {
      reader.at("pieces").expected("order of time");
    }
  }
  const auto keep_above = reader.at("keep_above");
  if (!keep_above.is_null()) line.keep_above = keep_above.number();
  line.covers = reader.at("covers").list(ChartLimits::kCovers, cover_of);
  return line;
}

Chart::Mark mark_of(const Reader& reader) {
  return {.at = reader.at("at").instant(), .text = reader.at("text").text()};
}

Chart::Tick tick_of(const Reader& reader) {
  return {.at = reader.at("at").instant(),
          .label = reader.at("label").text(),
          .is_day = reader.at("is_day").flag()};
}

Chart chart_of(const Reader& reader) {
  Chart chart{.title = reader.at("title").text(),
              .unit = reader.at("unit").text(),
              .span = span_of(reader.at("span")),
              .ticks = reader.at("ticks").list(ChartLimits::kTicks, tick_of),
              .nights = reader.at("nights").list(ChartLimits::kNights, span_of),
              .lines = reader.at("lines").list(ChartLimits::kLines, line_of),
              .marks = reader.at("marks").list(ChartLimits::kMarks, mark_of)};
  if (chart.span.from == chart.span.to) {
    reader.at("span").at("to").expected("a time after \"from\"");
  }
  if (chart.lines.empty()) reader.at("lines").expected("at least one");
  check_order(reader.at("ticks"), chart.ticks, &Chart::Tick::at);
  check_order(reader.at("marks"), chart.marks, &Chart::Mark::at);
  return chart;
}

}  // namespace

std::string chart_json(const Chart& chart) {
  const Json json{{"title", chart.title},
                  {"unit", chart.unit},
                  {"span", span_json(chart.span)},
                  {"ticks", list_of(chart.ticks, tick_json)},
                  {"nights", list_of(chart.nights, span_json)},
                  {"lines", list_of(chart.lines, line_json)},
                  {"marks", list_of(chart.marks, mark_json)}};
  // A name from a file that a person wrote, or a sensor's: anything may be in it.
  return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

Result<Chart> chart_from_json(std::string_view text) {
  const Json json = Json::parse(text, nullptr, /*allow_exceptions=*/false);
  if (!json.is_object()) return refuse("expected a chart as one JSON object");
  Progress progress;
  Chart chart = chart_of({json, progress});
  if (!progress.fault.empty()) return refuse(std::move(progress.fault));
  return chart;
}

}  // namespace rimeward
