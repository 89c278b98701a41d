// The plate workshop as JSON.
#include <algorithm>

#include <nlohmann/json.hpp>

#include "copunctal/app/debrief.h"
#include "copunctal/design/make_set.h"
#include "copunctal/server/encode.h"

namespace copunctal {
namespace {

using Json = nlohmann::json;

Json text_or_null(const std::string& text) {
  return text.empty() ? Json(nullptr) : Json(text);
}

Json making_of(const SetMaking& making) {
  return {{"state", name_of(making.state)},
          {"purpose", making.wish.purpose},
          {"display", making.wish.display},
          {"symbols", making.wish.symbols},
          {"seed", making.wish.seed},
          {"loan", text_or_null(making.wish.loan)},
          {"plates", making.wish.purpose == "practical" ? Json(making.wish.plates) : Json(nullptr)},
          {"cells", making.wish.cells},
          {"done", making.done},
          {"of", making.of},
          {"set", text_or_null(making.set)},
          {"message", text_or_null(making.message)},
          {"remedy", text_or_null(making.remedy)}};
}

}  // namespace

std::string json_of(const std::vector<SetSummary>& sets, const std::optional<SetMaking>& making) {
  Json all = Json::array();
  for (const SetSummary& one : sets)
    all.push_back({{"set", one.set},
                   {"in_use", one.in_use},
                   {"purpose", one.contents.purpose},
                   {"display", one.contents.display},
                   {"symbols", name_of(one.contents.family)},
                   {"seed", one.contents.seed},
                   {"loan", text_or_null(one.contents.loan)},
                   {"plates", one.contents.plates.size()},
                   {"cells", one.contents.cells}});
  return Json{{"sets", std::move(all)},
              {"making", making ? making_of(*making) : Json(nullptr)},
              {"purposes", set_purposes()},
              {"intended_use", intended_use()}}
      .dump();
}

std::string json_of(const SetMaking& making) {
  return making_of(making).dump();
}

std::string class_displays_json(const std::vector<std::string>& with_plates,
                                const std::map<std::string, std::int64_t>& devices,
                                const std::optional<SetMaking>& making) {
  Json list = Json::array();
  for (const auto& [display, count] : devices) {
    const bool has_plates =
        std::find(with_plates.begin(), with_plates.end(), display) != with_plates.end();
    list.push_back(
        {{"display", text_or_null(display)}, {"devices", count}, {"has_plates", has_plates}});
  }
  return Json{{"with_plates", with_plates},
              {"devices", std::move(list)},
              {"making", making ? making_of(*making) : Json(nullptr)}}
      .dump();
}

std::string json_of(const std::vector<ShelfPlate>& plates) {
  Json all = Json::array();
  for (const ShelfPlate& one : plates) {
    Json drawn = Json::array(), readings = Json::array();
    for (const Figure& figure : one.plate.figures) drawn.push_back(figure.symbol);
    for (const ShelfReading& reading : one.readings)
      readings.push_back({{"observer", reading.observer},
                          {"first", reading.first},
                          {"second", one.plate.figures.size() > 1 ? Json(reading.second) : nullptr},
                          {"margins", reading.margins}});
    all.push_back({{"name", one.plate.name},
                   {"kind", name_of(one.plate.kind)},
                   {"aim", text_or_null(std::string(name_of(one.plate.aim)))},
                   {"drawn", std::move(drawn)},
                   {"basis", name_of(basis_of(one.plate.kind))},
                   {"rests_on", basis_in_words(one.plate.kind)},
                   {"readings", std::move(readings)}});
  }
  return Json{{"plates", std::move(all)}}.dump();
}

}  // namespace copunctal
