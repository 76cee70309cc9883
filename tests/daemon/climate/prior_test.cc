#include "daemon/climate/prior.h"

#include <array>
#include <fstream>
#include <iterator>
#include <string>

#include <doctest/doctest.h>

#include "tests/support/shared_folder.h"

namespace rimeward {
namespace {

// Seven features before dark, nine after.
const std::string kSeven = R"({"mean":[1,2,3,4,5,6,7],"fill":[1,0,0,0,0,0,0.5],)"
                           R"("s2":5.0,"sigma0":2.25,"features":["any"]})";
const std::string kNine = R"({"mean":[1,2,3,4,5,6,7,8,9],"fill":[1,0,0,0,0,0,0,0,0],)"
                          R"("s2":3,"sigma0":1.5})";

std::string prior_text(const std::string& dusk, const std::string& late) {
  return R"({"afternoon":)" + kSeven + R"(,"dusk":)" + dusk + R"(,"dark":)" + kNine +
         R"(,"late":)" + late + "}";
}

std::string changed(std::string text, const std::string& from, const std::string& to) {
  return text.replace(text.find(from), from.size(), to);
}

}  // namespace

TEST_CASE("a prior's file gives every moment its numbers") {
  const auto prior = prior_from_json(prior_text(kSeven, kNine));
  REQUIRE(prior);
  const MomentPrior& dusk = prior->moments[index_of(Moment::kDusk)];
  CHECK(dusk.mean == FeatureArray{1, 2, 3, 4, 5, 6, 7});
  CHECK(dusk.fill[6] == 0.5);
  CHECK(dusk.noise_variance == 5.0);
  CHECK(dusk.pace == LearningPace{});
  CHECK(dusk.pace != kPublishedPace);
  CHECK(dusk.first_spread == 2.25);
  CHECK(prior->moments[index_of(Moment::kLate)].mean[8] == 9.0);
}

TEST_CASE("a faulty prior is refused by the name of the key") {
  struct Fault {
    std::string text;
    const char* message;
  };
  const std::array faults{
      Fault{"{",
            "prior: expected a JSON object of the moments afternoon, dusk, dark and "
            "late"},
      Fault{"[]",
            "prior: expected a JSON object of the moments afternoon, dusk, dark and "
            "late"},
      Fault{prior_text(kNine, kNine),
            "prior: dusk: mean: expected a list of 7 numbers, got 9"},
      Fault{prior_text("3", kNine),
            "prior: dusk: expected an object with mean, fill, s2 and sigma0"},
      Fault{prior_text(kSeven, changed(kNine, "\"fill\"", "\"full\"")),
            "prior: late: fill: missing"},
      Fault{prior_text(kSeven, changed(kNine, "\"fill\":[1,0", "\"fill\":[1,\"x\"")),
            "prior: late: fill: expected a number at position 2, got \"x\""},
      Fault{prior_text(kSeven, changed(kNine, "[1,2,3,4,5,6,7,8,9]", "true")),
            "prior: late: mean: expected a list of 9 numbers, got boolean"},
      Fault{prior_text(changed(kSeven, "\"s2\":5.0", "\"s2\":-1"), kNine),
            "prior: dusk: s2: expected a number above 0, got -1"},
      Fault{prior_text(changed(kSeven, "2.25", "null"), kNine),
            "prior: dusk: sigma0: expected a number above 0, got null"},
      Fault{prior_text(changed(kSeven, ",\"sigma0\":2.25", ""), kNine),
            "prior: dusk: sigma0: missing"}};
  for (const Fault& fault : faults) {
    CAPTURE(fault.text);
    const auto prior = prior_from_json(fault.text);
    REQUIRE_FALSE(prior);
    CHECK(prior.error().message == fault.message);
  }
}

TEST_CASE("the built-in priors are the published ones") {
  const auto shared = shared_folder();
  if (!shared) {
    MESSAGE("skipped: no folder of check values, see tests/support/shared_folder.h");
    return;
  }
  const auto read = [&shared](const char* name) {
    std::ifstream file(*shared / "forecast" / name);
    return prior_from_json(std::string{std::istreambuf_iterator<char>{file}, {}});
  };
  CHECK(read("prior.json") == open_air_prior());
  CHECK(read("prior_covered.json") == covered_prior());
}

}  // namespace rimeward
