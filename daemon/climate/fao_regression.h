// The night low by the FAO's regression on air temperature and dew point two hours after
// sunset: the yardstick that the tool's own outlook is held against. Pure: thread-safe.
//
// Source: Snyder & de Melo-Abreu (2005), Frost Protection: fundamentals, practice and
// economics, vol. 1, FAO, ch. 5. It is meant for radiation-frost nights (clear, wind
// below 2 m/s) and for values within those it was fitted to.

#pragma once

#include <optional>

#include "sensors/units.h"

namespace rimeward {

struct FaoNight {
  Celsius air;        // two hours after sunset
  Celsius dew_point;  // then
  Celsius low;        // of the night
};

// low = a air + b dew_point + c, in degrees C.
struct FaoCoefficients {
  double a;
  double b;
  double c;
};

// The nights so far, as sums: a night more costs the same however many there were.
class FaoNights {
 public:
  void learn(const FaoNight& night);

  // The book's way: the low on the air temperature first, then what is left of it on the
  // dew point. Nothing for fewer than three nights, or when all have one air temperature
  // or one dew point.
  std::optional<FaoCoefficients> fit_two_step() const;

  // Least squares on both at once: other coefficients, a smaller error on the same
  // nights. Nothing for fewer than three nights, or when air and dew point lie on one
  // line.
  std::optional<FaoCoefficients> fit_joint() const;

 private:
  bool can_be_fitted() const;
  FaoCoefficients through_means(double a, double b) const;

  double count_ = 0.0;
  double air_ = 0.0;  // means
  double dew_ = 0.0;
  double low_ = 0.0;
  double air_air_ = 0.0;  // sums of squares and products about them
  double dew_dew_ = 0.0;
  double air_dew_ = 0.0;
  double air_low_ = 0.0;
  double dew_low_ = 0.0;
};

Celsius predict(const FaoCoefficients& coefficients, Celsius air, Celsius dew_point);

}  // namespace rimeward
