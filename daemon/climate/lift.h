// What layers of fleece add to the low of a night, in one place: from published figures
// at first, then as its own covered nights show it. Plain values, no locking.
//
// Starts at the low end of what is published, since a frost warning must not rest on a
// good night: one layer of light fleece (17 to 19 g/m2) adds 1 to 2 K and two add 2 to
// 3 K (common practice, no source; the FAO gives 1 to 5 K for row covers of all weights:
// Snyder & de Melo-Abreu 2005, Frost Protection vol. 1, ch. 6). Never more than 6 K to
// begin with, whatever the layers. A lift may turn out negative: dry film on a clear calm
// night can be colder beneath (Row cover effects on minimum air temperature, Oregon State
// University 1988, table 2). It holds only for a cover that is on before sunset, its
// edges held down, and for a sensor beneath it.
//
// What is believed is one normal distribution of the lifts of all numbers of layers:
// what one layer turns out to add tells of two as well. A covered night changes it by the
// usual rule of least squares. From night to night it falls back a little towards what is
// published, so that fleece that wears, or another in its place, is followed. The method
// is this project's own.

#pragma once

#include <array>
#include <cstddef>
#include <string>
#include <string_view>

#include "sensors/result.h"
#include "sensors/units.h"

namespace rimeward {

inline constexpr int kMostLayers = 9;  // that can be written down

struct Lift {
  Kelvins added{};  // to count on
  // A standard error of it for one night to come: a lift also differs between a clear
  // night and a cloudy one.
  Kelvins spread{};
  int nights = 0;  // that it was learned from, of these layers
  bool operator==(const Lift&) const = default;
};

class Lifts {
 public:
  Lifts();

  // 0 layers add nothing, for certain. REQUIRES: 0 <= layers <= kMostLayers.
  Lift of(int layers) const;

  // A night under that many layers came to be `added` warmer than it would have been
  // without any, by a reckoning with that standard error. A night that is wildly unlike
  // what was believed counts as one that is just unlikely.
  // REQUIRES: 1 <= layers <= kMostLayers, both finite, error > 0.
  void learn(int layers, Kelvins added, Kelvins error);

  // Goes on to the last bit. restore() refuses what save() cannot have written.
  std::string save() const;
  static Result<Lifts> restore(std::string_view text);

 private:
  static constexpr std::size_t kCounts = kMostLayers;  // of layers: 1 to 9
  // A symmetric matrix's lower triangle, row by row.
  using Triangle = std::array<double, kCounts*(kCounts + 1) / 2>;

  void fall_back();
  bool is_sound() const;

  // By the number of layers less one.
  std::array<double, kCounts> added_;  // in kelvins
  Triangle covariance_;                // in kelvins squared
  std::array<int, kCounts> nights_{};
};

}  // namespace rimeward
