#include "copunctal/design/plate_set.h"

#include <algorithm>
#include <array>
#include <optional>
#include <system_error>

#include <nlohmann/json.hpp>

#include "copunctal/base/files.h"
#include "copunctal/base/hash.h"
#include "copunctal/display/keep_display.h"
#include "copunctal/display/write_profile.h"
#include "copunctal/image/png.h"
#include "copunctal/plate/draw.h"

namespace copunctal {
namespace {

namespace fs = std::filesystem;
using Json = nlohmann::ordered_json;

constexpr int set_format = 1;

template <class Name, std::size_t n>
std::optional<Name> named(const std::string& text, const std::array<Name, n>& all) {
  for (const Name one : all)
    if (name_of(one) == text) return one;
  return {};
}

constexpr std::array all_kinds = {
    PlateKind::opener, PlateKind::vanishing, PlateKind::transformation, PlateKind::hidden,
    PlateKind::fork,   PlateKind::ladder,    PlateKind::tritan};
constexpr std::array all_aims = {Aim::none, Aim::dichromat, Aim::five_nm, Aim::ten_nm};
constexpr std::array all_families = {SymbolFamily::digits, SymbolFamily::rings,
                                     SymbolFamily::paths};
constexpr std::array all_places = {Place::whole, Place::upper_left, Place::lower_right,
                                   Place::upper_right, Place::lower_left};

Json json_of(const Plate& plate) {
  Json figures = Json::array();
  for (const Figure& figure : plate.figures)
    figures.push_back({{"symbol", figure.symbol}, {"place", name_of(figure.place)}});
  return {{"name", plate.name},
          {"kind", name_of(plate.kind)},
          {"aim", plate.aim == Aim::none ? Json(nullptr) : Json(name_of(plate.aim))},
          {"seed", plate.seed},
          {"figures", figures},
          {"gap", plate.gap},
          {"codes", plate.codes}};
}

Json json_without_hash(const PlateSet& set) {
  Json plates = Json::array();
  for (const Plate& plate : set.plates) plates.push_back(json_of(plate));
  // Digits are what a set without a family has: what was written before there was another one
  // keeps its bytes and its hash.
  Json json = {{"format", set_format},
               {"purpose", set.purpose},
               {"display", set.display},
               {"seed", set.seed}};
  if (set.own_display) json["display_data"] = Json::parse(kept_display(*set.own_display));
  if (!set.loan.empty()) json["loan"] = set.loan;
  if (set.family != SymbolFamily::digits) json["family"] = name_of(set.family);
  json["symbols"] = set.symbols;
  if (!set.fork_symbols.empty()) json["fork_symbols"] = set.fork_symbols;
  if (set.cells != usual_cells) json["cells"] = set.cells;
  json["size_px"] = set.size_px;
  json["plates"] = std::move(plates);
  return json;
}

// Throws nlohmann's exceptions or std::out_of_range for anything not as written by set_json().
PlateSet set_from(const Json& json) {
  PlateSet set;
  set.purpose = json.at("purpose").get<std::string>();
  set.display = json.at("display").get<std::string>();
  set.seed = json.at("seed").get<std::uint64_t>();
  if (json.contains("display_data")) {
    auto display = display_kept(json.at("display_data").dump());
    if (!display) throw std::invalid_argument(display.error().message);
    set.own_display = *std::move(display);
  }
  if (json.contains("loan")) set.loan = json.at("loan").get<std::string>();
  if (json.contains("family"))
    set.family = named(json.at("family").get<std::string>(), all_families).value();
  set.symbols = json.at("symbols").get<std::vector<std::string>>();
  if (json.contains("fork_symbols"))
    set.fork_symbols = json.at("fork_symbols").get<std::vector<std::string>>();
  if (json.contains("cells")) set.cells = json.at("cells").get<int>();
  set.size_px = json.at("size_px").get<int>();
  set.hash = json.at("hash").get<std::string>();
  for (const Json& item : json.at("plates")) {
    Plate plate;
    plate.name = item.at("name").get<std::string>();
    plate.kind = named(item.at("kind").get<std::string>(), all_kinds).value();
    const Json& aim = item.at("aim");
    plate.aim = aim.is_null() ? Aim::none : named(aim.get<std::string>(), all_aims).value();
    plate.seed = item.at("seed").get<std::uint64_t>();
    plate.cells = set.cells;
    for (const Json& figure : item.at("figures"))
      plate.figures.push_back({figure.at("symbol").get<std::string>(),
                               named(figure.at("place").get<std::string>(), all_places).value()});
    plate.gap = item.at("gap").get<Code>();
    plate.codes = item.at("codes").get<std::vector<std::vector<Code>>>();
    set.plates.push_back(std::move(plate));
  }
  return set;
}

tl::unexpected<Error> unusable(const fs::path& file, const std::string& why) {
  return fail(Error::Kind::bad_input, file.string() + ": " + why, "set", file.string(),
              "make it again with `copunctal plates make`");
}

std::string without_slash(const fs::path& directory) {
  return directory.has_filename() ? directory.string() : directory.parent_path().string();
}

// Where a set is written before it takes its name.
fs::path draft_of(const fs::path& directory) {
  return without_slash(directory) + ".part";
}

Result<void> is_free(const fs::path& directory) {
  std::error_code error;
  if (fs::exists(directory, error) &&
      !(fs::is_directory(directory, error) && fs::is_empty(directory, error)))
    return fail(Error::Kind::bad_input, directory.string() + ": exists already", "set",
                directory.string(), "choose a new directory, or remove this one");
  return {};
}

tl::unexpected<Error> cannot_be_made(const fs::path& directory, const std::error_code& why) {
  return fail(Error::Kind::io, directory.string() + ": cannot be made: " + why.message(), "set",
              directory.string(), "choose a directory that is writable and has space");
}

bool is_row_of(const std::vector<std::string>& row, SymbolFamily family) {
  return !row.empty() && std::is_sorted(row.begin(), row.end()) &&
         std::adjacent_find(row.begin(), row.end()) == row.end() &&
         std::all_of(row.begin(), row.end(),
                     [&](const std::string& symbol) { return family_of(symbol) == family; });
}

// What is wrong with the symbols of a set that was written somewhere else; empty if nothing.
std::string fault_of_symbols(const PlateSet& set) {
  if (set.cells < fewest_cells || set.cells > most_cells)
    return "its fields are of " + std::to_string(set.cells) + " cells, which are not from " +
           std::to_string(fewest_cells) + " to " + std::to_string(most_cells);
  if (!is_row_of(set.symbols, set.family))
    return "its answer row is not one of " + std::string(name_of(set.family));
  if (!set.fork_symbols.empty() && (!is_row_of(set.fork_symbols, SymbolFamily::rings) ||
                                    set.fork_symbols.size() != set.symbols.size()))
    return "its fork plates' answer row is not one of rings";
  for (const Plate& plate : set.plates) {
    const std::vector<std::string>& row = answer_row(set, plate);
    for (const Figure& figure : plate.figures) {
      if (std::find(row.begin(), row.end(), figure.symbol) == row.end())
        return "plate '" + plate.name + "' shows '" + figure.symbol +
               "', which is not in its answer row";
      if (const auto size = check_size(figure.symbol, figure.place, set.cells); !size)
        return "plate '" + plate.name + "': " + size.error().message;
    }
  }
  return {};
}

}  // namespace

Result<Display> display_of_set(const PlateSet& set) {
  if (set.own_display) return *set.own_display;
  auto display = named_display(set.display);
  if (!display)
    return fail(
        Error::Kind::bad_input,
        "the set was made for display '" + set.display + "', which this program does not know",
        "set", set.display, "make a set for one of the displays of `copunctal display list`");
  return display;
}

CodeLight light_of(const PlateSet& set) {
  const auto display = display_of_set(set);
  return display ? CodeLight(display->curves) : CodeLight::srgb();
}

const std::vector<std::string>& answer_row(const PlateSet& set, const Plate& plate) {
  return plate.kind == PlateKind::fork && !set.fork_symbols.empty() ? set.fork_symbols
                                                                    : set.symbols;
}

SymbolFamily answer_family(const PlateSet& set, const Plate& plate) {
  return family_of(answer_row(set, plate).front()).value_or(set.family);
}

std::string set_hash(const PlateSet& set) {
  return sha256_hex(json_without_hash(set).dump());
}

std::string set_json(const PlateSet& set) {
  Json json = json_without_hash(set);
  json["hash"] = set.hash;
  return json.dump(1) + "\n";
}

Result<PlateSet> load_set(const fs::path& directory) {
  const fs::path file = directory / "set.json";
  const auto read = read_file(file);
  if (!read) return unusable(file, "no such set");
  const std::string& text = *read;
  try {
    const Json json = Json::parse(text);
    if (const int format = json.at("format").get<int>(); format != set_format)
      return unusable(file, "written in format " + std::to_string(format) +
                                ", this program reads " + std::to_string(set_format));
    PlateSet set = set_from(json);
    // Byte for byte: anything else was not written by this program.
    if (set.hash != set_hash(set) || set_json(set) != text)
      return unusable(file, "was edited: its contents do not match its hash");
    for (const Plate& plate : set.plates)
      if (plate.figures.empty() || plate.figures.size() > 2 ||
          plate.codes.size() != parts_of(plate.figures) || plate.codes.front().empty() ||
          std::any_of(plate.codes.begin(), plate.codes.end(),
                      [&](const auto& part) { return part.size() != plate.codes.front().size(); }))
        return unusable(file, "plate '" + plate.name + "' has no codes");
    if (const std::string fault = fault_of_symbols(set); !fault.empty())
      return unusable(file, fault);
    return set;
  } catch (const std::exception& error) {
    return unusable(file, std::string("is not a set: ") + error.what());
  }
}

Result<void> check_target(const fs::path& directory) {
  COPUNCTAL_TRY_VOID(is_free(directory));
  // Made for once, with whatever is missing above it, and taken away again.
  const fs::path draft = draft_of(directory);
  std::vector<fs::path> made;
  std::error_code error, ignored;
  for (fs::path at = draft; !at.empty() && !fs::exists(at, ignored); at = at.parent_path())
    made.push_back(at);
  fs::create_directories(draft, error);
  for (const fs::path& one : made) fs::remove(one, ignored);
  if (error) return cannot_be_made(directory, error);
  return {};
}

Result<void> write_directory(const fs::path& directory,
                             const std::function<Result<void>(const fs::path& draft)>& fill) {
  COPUNCTAL_TRY_VOID(is_free(directory));
  const std::string plain = without_slash(directory);
  const fs::path draft = draft_of(directory);
  std::error_code error;
  fs::remove_all(draft, error);
  // Whoever asked knows the directory, not its draft.
  const auto abandoned = [&](Error reason) {
    std::error_code ignored;
    fs::remove_all(draft, ignored);
    for (std::string* text : {&reason.message, &reason.place})
      if (text->starts_with(draft.string())) text->replace(0, draft.string().size(), plain);
    return tl::unexpected(std::move(reason));
  };
  if (!fs::create_directories(draft, error) || error) return cannot_be_made(directory, error);
  if (auto filled = fill(draft); !filled) return abandoned(std::move(filled).error());
  fs::remove(plain, error);  // an empty directory of that name
  fs::rename(draft, plain, error);
  if (error) return abandoned(cannot_be_made(directory, error).value());
  return {};
}

Result<void> save_set(const PlateSet& set, const fs::path& directory) {
  return write_directory(directory, [&](const fs::path& draft) -> Result<void> {
    std::error_code error;
    if (!fs::create_directory(draft / "plates", error)) return cannot_be_made(directory, error);
    COPUNCTAL_TRY_VOID(write_file(set_json(set), draft / "set.json"));
    const auto display = display_of_set(set);
    const CodeLight light = display ? CodeLight(display->curves) : CodeLight::srgb();
    const bool is_srgb = !display || (!set.own_display && set.display.starts_with("srgb") &&
                                      display->curves[0].is_srgb());
    const std::string profile = is_srgb ? std::string() : profile_of(*display);
    for (const Plate& plate : set.plates)
      COPUNCTAL_TRY_VOID(write_png(draw(plate, set.size_px, light),
                                   draft / "plates" / (plate.name + ".png"), profile));
    return {};
  });
}

}  // namespace copunctal
