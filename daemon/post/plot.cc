#include "daemon/post/plot.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace rimeward {

double round_step(double span, double least, int most) {
  const double wanted = span / most;
  if (!(wanted > least)) return least;
  const double power = std::pow(10, std::floor(std::log10(wanted)));
  for (const double factor : std::array{1.0, 2.0, 5.0}) {
    if (wanted <= factor * power) return factor * power;
  }
  return 10 * power;
}

std::vector<Placed> placed_apart(const std::vector<double>& wanted, double from,
                                 double to, double apart) {
  std::vector<Placed> all;
  for (std::size_t i = 0; i < wanted.size(); ++i)
    all.push_back({i, wanted[i]});
  std::ranges::stable_sort(all, {}, &Placed::at);
  double limit = to;
  for (auto one = all.rbegin(); one != all.rend(); ++one) {
    one->at = std::min(one->at, limit);
    limit = one->at - apart;
  }
  // After this pass, so that what there is no room for is at the end.
  limit = from;
  for (Placed& one : all) {
    one.at = std::max(one.at, limit);
    limit = one.at + apart;
  }
  return all;
}

}  // namespace rimeward
