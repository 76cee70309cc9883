#include "daemon/notice/keep_above.h"

#include <vector>

#include <doctest/doctest.h>

#include "tests/support/hochfeld.h"

using namespace rimeward;
using namespace rimeward::testing;

namespace {

const Crop kChilli{.id = "chilli", .name = "chilli", .keep_above = Celsius{7}};
const Crop kLettuce{
    .id = "lettuce", .name = "lettuce", .tenderness = Tenderness::kHalfHardy};
const Crop kKale{.id = "kale",
                 .name = "kale",
                 .tenderness = Tenderness::kHardy,
                 .unhardened = {.killing = Celsius{-3.5}},
                 .hardened = {.killing = Celsius{-10}}};

Place bare(PlaceKind kind) {
  Place place = north_frame();
  place.kind = kind;
  place.keep_above.reset();
  return place;
}

}  // namespace

TEST_CASE("keep-above as set for a place comes before what its batches need") {
  const std::vector<Tenant> tenants{{.batch = "chillies", .crop = &kChilli}};
  const KeepAbove found = keep_above_of(north_frame(), tenants);
  CHECK(found.limit == Celsius{1});
  CHECK(found.batch.empty());
  CHECK(found.is_set);
}

TEST_CASE("the most delicate batch of a place sets its keep-above, outdoors too") {
  const std::vector<Tenant> tenants{{.batch = "kale", .crop = &kKale},
                                    {.batch = "chillies", .crop = &kChilli},
                                    {.batch = "lettuce", .crop = &kLettuce}};
  for (const PlaceKind kind : {PlaceKind::kFrame, PlaceKind::kOutdoors}) {
    const KeepAbove found = keep_above_of(bare(kind), tenants);
    CHECK(found.limit == Celsius{7});
    CHECK(found.batch == "chillies");
    CHECK_FALSE(found.is_set);
  }
}

TEST_CASE("hardy batches let a place go below freezing, hardened ones further") {
  std::vector<Tenant> tenants{{.batch = "kale", .crop = &kKale}};
  CHECK(keep_above_of(bare(PlaceKind::kBed), tenants).limit == Celsius{-1.5});
  tenants[0].hardening = Hardening::kHardened;
  CHECK(keep_above_of(bare(PlaceKind::kBed), tenants).limit == Celsius{-8});
}

TEST_CASE("of two batches that need the same, the first listed is named") {
  const std::vector<Tenant> tenants{{.batch = "early", .crop = &kLettuce},
                                    {.batch = "late", .crop = &kLettuce}};
  CHECK(keep_above_of(bare(PlaceKind::kFrame), tenants).batch == "early");
}

TEST_CASE("without batches a place keeps above freezing, outdoors above nothing") {
  const KeepAbove frame = keep_above_of(bare(PlaceKind::kFrame), {});
  CHECK(frame.limit == Celsius{0});
  CHECK(frame.batch.empty());
  CHECK_FALSE(frame.is_set);
  CHECK_FALSE(keep_above_of(bare(PlaceKind::kOutdoors), {}).limit);
}
