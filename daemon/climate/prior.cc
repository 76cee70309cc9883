#include "daemon/climate/prior.h"

#include <cmath>
#include <string>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace rimeward {
namespace {

using Json = nlohmann::json;

constexpr Prior kOpenAir{{{
    {.mean = {2.2658, 0.6395, -2.7273, -2.6957, 2.3555, 2.3555, 1.4227},
     .fill = {1.0, 1.4466, -0.0177, 0.2329, 0.6854, 0.6866, 0.5516},
     .noise_variance = 5.089,
     .first_spread = 2.26},
    {.mean = {3.0032, 0.5268, -2.6117, -3.1503, 2.2779, 1.9614, 1.1236},
     .fill = {1.0, 1.3513, -0.0064, 0.2716, 0.5902, 0.5915, 0.2464},
     .noise_variance = 4.607,
     .first_spread = 2.15},
    {.mean = {1.7167, 0.4877, -0.7262, -0.9422, 0.4325, 0.9662, 1.2454, 1.6166, 1.1557},
     .fill = {1.0, 1.1006, 0.0143, 0.3993, 0.3396, 0.3408, -0.2138, 0.231, 0.5396},
     .noise_variance = 2.906,
     .first_spread = 1.73},
    {.mean = {1.4569, 0.3678, -0.4351, -0.4528, 0.387, 0.9114, 0.7168, 0.7268, 1.2928},
     .fill = {1.0, 1.0271, 0.0148, 0.4353, 0.2659, 0.2671, -0.5064, 0.3783, 0.4671},
     .noise_variance = 2.12,
     .first_spread = 1.47},
}}};

constexpr Prior kCovered{{{
    {.mean = {1.4919, 0.5495, -1.2203, -2.7565, 4.1797, 4.2089, 1.6484},
     .fill = {1.0, 2.0601, 0.3016, 0.3472, 1.3482, 1.3372, 0.6144},
     .noise_variance = 5.089,
     .first_spread = 2.26},
    {.mean = {2.8491, 0.5092, -0.8562, -3.4762, 3.785, 3.5775, 1.7573},
     .fill = {1.0, 1.7308, 0.2589, 0.4358, 1.0193, 1.0119, 0.3849},
     .noise_variance = 4.607,
     .first_spread = 2.15},
    {.mean = {1.9416, 0.4456, 0.0452, -0.9391, 0.3751, 1.9241, 0.9047, 1.7374, 1.3448},
     .fill = {1.0, 1.0807, -0.044, 0.7395, 0.3726, 0.3626, -0.0535, 0.5695, 0.0605},
     .noise_variance = 2.906,
     .first_spread = 1.73},
    {.mean = {1.6474, 0.2703, 0.4132, -0.4873, 0.2542, 1.4461, -0.03, 0.8073, 1.3718},
     .fill = {1.0, 0.9902, -0.126, 0.7584, 0.284, 0.2722, -0.4192, 0.7504, 0.0416},
     .noise_variance = 2.12,
     .first_spread = 1.47},
}}};

Result<double> positive_number(const Json& moment, const char* key) {
  const auto found = moment.find(key);
  if (found == moment.end()) return refuse(fmt::format("{}: missing", key));
  const double value = found->is_number() ? found->get<double>() : 0.0;
  if (!std::isfinite(value) || value <= 0.0) {
    return refuse(
        fmt::format("{}: expected a number above 0, got {}", key, found->dump()));
  }
  return value;
}

Result<FeatureArray> feature_numbers(const Json& moment, const char* key,
                                     std::size_t count) {
  const auto found = moment.find(key);
  if (found == moment.end()) return refuse(fmt::format("{}: missing", key));
  if (!found->is_array() || found->size() != count) {
    return refuse(fmt::format("{}: expected a list of {} numbers, got {}", key, count,
                              found->is_array() ? fmt::format("{}", found->size())
                                                : std::string{found->type_name()}));
  }
  FeatureArray numbers{};
  for (std::size_t i = 0; i < count; ++i) {
    const Json& item = (*found)[i];
    if (!item.is_number() || !std::isfinite(item.get<double>())) {
      return refuse(fmt::format("{}: expected a number at position {}, got {}", key,
                                i + 1, item.dump()));
    }
    numbers.at(i) = item.get<double>();
  }
  return numbers;
}

Result<MomentPrior> moment_prior(const Json& moment, std::size_t count) {
  const auto mean = feature_numbers(moment, "mean", count);
  if (!mean) return tl::unexpected(mean.error());
  const auto fill = feature_numbers(moment, "fill", count);
  if (!fill) return tl::unexpected(fill.error());
  const auto variance = positive_number(moment, "s2");
  if (!variance) return tl::unexpected(variance.error());
  const auto spread = positive_number(moment, "sigma0");
  if (!spread) return tl::unexpected(spread.error());
  return MomentPrior{
      .mean = *mean, .fill = *fill, .noise_variance = *variance, .first_spread = *spread};
}

}  // namespace

const Prior& open_air_prior() {
  return kOpenAir;
}

const Prior& covered_prior() {
  return kCovered;
}

Result<Prior> prior_from_json(std::string_view text) {
  const Json json = Json::parse(text, nullptr, false);
  if (!json.is_object()) {
    return refuse("prior: expected a JSON object of the moments " +
                  std::string{"afternoon, dusk, dark and late"});
  }
  Prior prior;
  for (const Moment moment : kMoments) {
    const auto found = json.find(std::string{name_of(moment)});
    if (found == json.end() || !found->is_object()) {
      return refuse(
          fmt::format("prior: {}: expected an object with mean, fill, s2 and "
                      "sigma0",
                      name_of(moment)));
    }
    const auto read = moment_prior(*found, plain_feature_count(moment));
    if (!read) {
      return refuse(fmt::format("prior: {}: {}", name_of(moment), read.error().message));
    }
    prior.moments.at(index_of(moment)) = *read;
  }
  return prior;
}

}  // namespace rimeward
