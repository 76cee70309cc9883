// A chart of some hours or days of a few places, ready to be drawn: on the terminal
// (tools/cli/chart/chart_text.h) or as a picture (tools/draw/chart_picture.h). Plain
// values; numbers are in the unit that is shown. Names may hold anything: what draws them
// makes them fit for its medium.

#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <vector>

#include "sensors/units.h"

namespace rimeward {

struct Chart {
  // What the channel came to between `at` and the next point: one reading, or the lowest
  // and highest of several.
  struct Point {
    Instant at{};
    double low = 0;
    double high = 0;
    bool operator==(const Point&) const = default;
  };
  struct Span {
    Instant from{};
    Instant to{};
    bool operator==(const Span&) const = default;
  };
  struct Cover {
    Span span{};
    int layers = 1;
    bool operator==(const Cover&) const = default;
  };
  struct Line {
    std::string place;  // its name
    // In order of time; each piece holds at least one point, and between two pieces
    // readings are missing.
    std::vector<std::vector<Point>> pieces{};
    std::optional<double> keep_above{};
    std::vector<Cover> covers{};
    bool operator==(const Line&) const = default;
  };
  // A notice, where it was first told.
  struct Mark {
    Instant at{};
    std::string text;  // "13  Fleece the north frame tonight, by 19:35"
    bool operator==(const Mark&) const = default;
  };
  // A line across at a local hour, and at a midnight the date.
  struct Tick {
    Instant at{};
    std::string label;  // "18", or "Sun 12 Apr"
    bool is_day = false;
    bool operator==(const Tick&) const = default;
  };

  std::string
      title;  // "Hochfeld school garden: air, Fri 10 Apr 18:40 to Sun 12 Apr 18:40"
  std::string unit;  // "°C", "%"
  Span span{};
  std::vector<Tick> ticks{};   // in order of time
  std::vector<Span> nights{};  // sunset to sunrise, within the span; shaded
  std::vector<Line> lines{};   // at least one, in the order asked for
  std::vector<Mark> marks{};   // in order of time
  bool operator==(const Chart&) const = default;
};

}  // namespace rimeward
