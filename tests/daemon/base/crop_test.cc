#include "daemon/base/crop.h"

#include <doctest/doctest.h>

namespace rimeward {
namespace {

Crop crop_of(Tenderness tenderness) {
  Crop crop;
  crop.tenderness = tenderness;
  return crop;
}

Crop called(std::string id, std::string name, std::string plural,
            std::vector<std::string> others = {}) {
  Crop crop;
  crop.id = std::move(id);
  crop.name = std::move(name);
  crop.plural = std::move(plural);
  crop.other_names = std::move(others);
  return crop;
}

CropTable three_crops() {
  return CropTable({called("tomato", "tomato", "tomatoes"),
                    called("sweet-corn", "sweet corn", "sweet corn", {"maize"}),
                    called("courgette", "courgette", "courgettes", {"zucchini"})});
}

std::string id_of(const Crop* crop) {
  return crop == nullptr ? "" : crop->id;
}

TEST_CASE("a tenderness has the trade's name") {
  CHECK(name_of(Tenderness::kTender) == "tender");
  CHECK(name_of(Tenderness::kHalfHardy) == "half-hardy");
  CHECK(name_of(Tenderness::kHardy) == "hardy");
}

// The bands H1c and H2 of the RHS hardiness ratings of 2012 begin at 5 and at 1 C; soft
// leaves of winter rape die at -3 C (Gusta et al. 2004).
TEST_CASE("without figures of its own, a crop is kept above what its tenderness says") {
  CHECK(keep_above(crop_of(Tenderness::kTender)) == Celsius{5});
  CHECK(keep_above(crop_of(Tenderness::kHalfHardy)) == Celsius{1});
  CHECK(keep_above(crop_of(Tenderness::kHardy)) == Celsius{-1});
}

TEST_CASE("a tender crop is kept above its chilling temperature") {
  Crop crop = crop_of(Tenderness::kTender);
  crop.unhardened = {.chilling = Celsius{8}, .killing = Celsius{0}};
  CHECK(keep_above(crop) == Celsius{8});
}

TEST_CASE("a half-hardy crop is kept from frost whatever kills it") {
  Crop crop = crop_of(Tenderness::kHalfHardy);
  crop.unhardened.killing = Celsius{-4};
  CHECK(keep_above(crop) == Celsius{1});
}

TEST_CASE("a hardy crop is kept 2 K above what kills it soft, from -2 to 1 C") {
  Crop crop = crop_of(Tenderness::kHardy);
  crop.hardened.killing = Celsius{-12};
  crop.unhardened.killing = Celsius{-3.5};
  CHECK(keep_above(crop) == Celsius{-1.5});
  crop.unhardened.killing = Celsius{-5.6};
  CHECK(keep_above(crop) == Celsius{-2});
  crop.unhardened.killing = Celsius{-0.6};
  CHECK(keep_above(crop) == Celsius{1});
}

TEST_CASE("a keep-above of the crop's own comes before everything else") {
  Crop crop = crop_of(Tenderness::kTender);
  crop.unhardened.chilling = Celsius{10};
  crop.keep_above = Celsius{7};
  CHECK(keep_above(crop) == Celsius{7});
}

TEST_CASE("a crop is found by its id alone where an id is wanted") {
  const CropTable table = three_crops();
  CHECK(id_of(table.find("sweet-corn")) == "sweet-corn");
  CHECK(table.find("sweet corn") == nullptr);
  CHECK(table.find("") == nullptr);
}

TEST_CASE("a crop is found by any of its names as a person types it") {
  const CropTable table = three_crops();
  for (const char* name : {"tomato", "Tomatoes", "TOMATO", "tomatos"}) {
    CAPTURE(name);
    CHECK(id_of(table.named(name)) == "tomato");
  }
  for (const char* name : {"sweet corn", "Sweet-corn", "maize"}) {
    CAPTURE(name);
    CHECK(id_of(table.named(name)) == "sweet-corn");
  }
  for (const char* name : {"courgettes", "zucchini", "zucchinis"}) {
    CAPTURE(name);
    CHECK(id_of(table.named(name)) == "courgette");
  }
}

TEST_CASE("what is no crop's name finds none") {
  const CropTable table = three_crops();
  for (const char* name : {"", "s", "tomat", "corn", "orchid"}) {
    CAPTURE(name);
    CHECK(table.named(name) == nullptr);
  }
  CHECK(CropTable{}.named("tomato") == nullptr);
}

TEST_CASE("a misspelt name is near to the crop that was meant") {
  const CropTable table = three_crops();
  CHECK(id_of(table.nearest("tomatoe")) == "tomato");
  CHECK(id_of(table.nearest("corgettes")) == "courgette");
  CHECK(id_of(table.nearest("Sweat corn")) == "sweet-corn");
  CHECK(id_of(table.nearest("zuchini")) == "courgette");
  CHECK(table.nearest("orchid") == nullptr);
}

TEST_CASE("crops stay in the order they were given") {
  const CropTable table = three_crops();
  REQUIRE(table.all().size() == 3);
  CHECK(table.all()[0].id == "tomato");
  CHECK(table.all()[2].id == "courgette");
}

}  // namespace
}  // namespace rimeward
