#include "copunctal/app/plate_workshop.h"

#include <algorithm>
#include <cctype>

#include "copunctal/app/set_readers.h"
#include "copunctal/app/show_plates.h"
#include "copunctal/base/parallel.h"
#include "copunctal/base/text.h"
#include "copunctal/design/make_set.h"
#include "copunctal/display/keep_display.h"
#include "copunctal/plate/draw.h"
#include "copunctal/reader/predict.h"
#include "copunctal/view/view_map.h"

namespace copunctal {
namespace {

namespace fs = std::filesystem;

// Of the set in use, where it lies elsewhere.
constexpr std::string_view in_use_name = "in-use";

// What a set is called on disk: what it was made of.
std::string name_for(const SetWish& wish, const Display& display) {
  std::string name = wish.purpose + "-" + display.name + "-" + std::to_string(wish.seed);
  if (wish.symbols != "digits") name += "-" + wish.symbols;
  if (wish.plates != usual_plates) name += "-" + std::to_string(wish.plates) + "-plates";
  if (wish.cells != usual_cells) name += "-" + std::to_string(wish.cells) + "-cells";
  if (!wish.loan.empty()) name += "-lent-" + wish.loan;
  for (char& c : name)
    if (std::isalnum(static_cast<unsigned char>(c)) == 0) c = '-';
  return name;
}

Result<MakeOptions> options_of(const SetWish& wish) {
  COPUNCTAL_TRY(SymbolChoice symbols, symbols_from(wish.symbols));
  MakeOptions options;
  options.family = symbols.family;
  options.digits = std::move(symbols.digits);
  options.loan = wish.loan;
  options.cells = wish.cells;
  options.plates = wish.plates;
  COPUNCTAL_TRY_VOID(check_wish(wish.purpose, options));
  return options;
}

// What a set was made of, for another display.
SetWish same_again(const PlateSet& set, const std::string& display) {
  SetWish wish{.purpose = set.purpose,
               .display = display,
               .symbols = {},
               .loan = set.loan,
               .seed = set.seed,
               .cells = set.cells};
  wish.symbols = name_of(set.family);
  if (set.symbols != choose_symbols(set.family, set.seed, set.symbols.size()))
    for (std::size_t i = 0; i < set.symbols.size(); ++i)
      wish.symbols += (i == 0 ? ":" : ",") + set.symbols[i];
  if (set.purpose == "practical") wish.plates = set.plates.size();
  return wish;
}

Result<void> check_plate(const PlateSet& set, std::size_t plate) {
  if (plate < set.plates.size()) return {};
  return fail(Error::Kind::not_found, "the set has no plate number " + std::to_string(plate),
              "plate", std::to_string(plate),
              "ask for one from 0 to " + std::to_string(set.plates.size() - 1));
}

}  // namespace

std::string_view name_of(SetMaking::State state) {
  switch (state) {
    case SetMaking::State::making:
      return "making";
    case SetMaking::State::made:
      return "made";
    case SetMaking::State::stopped:
      return "stopped";
    case SetMaking::State::failed:
      return "failed";
  }
  return {};
}

PlateWorkshop::PlateWorkshop(fs::path directory, PlateSet in_use)
    : directory_(std::move(directory)), in_use_(std::move(in_use)) {}

PlateWorkshop::~PlateWorkshop() {
  stop();
}

std::vector<SetSummary> PlateWorkshop::sets() const {
  std::vector<SetSummary> all;
  std::error_code error;
  bool is_listed = false;
  for (const auto& entry : fs::directory_iterator(directory_, error)) {
    if (entry.path().extension() == ".part") continue;
    auto set = load_set(entry.path());
    if (!set) continue;
    const bool in_use = set->hash == in_use_.hash;
    is_listed = is_listed || in_use;
    all.push_back({entry.path().filename(), *std::move(set), in_use});
  }
  std::sort(all.begin(), all.end(),
            [](const SetSummary& a, const SetSummary& b) { return a.set < b.set; });
  if (!is_listed) all.insert(all.begin(), {std::string(in_use_name), in_use_, true});
  return all;
}

Result<PlateSet> PlateWorkshop::found(std::string_view set) const {
  // Names are compared with what lies there, never made into paths.
  std::error_code error;
  for (const auto& entry : fs::directory_iterator(directory_, error))
    if (entry.path().filename() == set && entry.path().extension() != ".part")
      if (auto loaded = load_set(entry.path())) return loaded;
  if (set == in_use_name) return in_use_;
  return fail(Error::Kind::not_found, "there is no set '" + std::string(set) + "'", "set",
              std::string(set), "choose one that is listed");
}

Result<SetMaking> PlateWorkshop::make(const SetWish& wish) {
  COPUNCTAL_TRY(const Display display, named_display(wish.display));
  COPUNCTAL_TRY(const MakeOptions options, options_of(wish).map_error([](Error error) {
    error.kind = Error::Kind::usage;  // whatever it is, another wish is the remedy
    return error;
  }));
  if (!wish.loan.empty()) COPUNCTAL_TRY_VOID(observer_from(wish.loan));
  const std::string name = name_for(wish, display);
  COPUNCTAL_TRY_VOID(check_target(directory_ / name).map_error([&](Error error) {
    if (error.kind != Error::Kind::bad_input) return error;
    return Error{Error::Kind::conflict, "there is a set of these already", "set", name,
                 "look at it, or choose another seed"};
  }));
  const std::scoped_lock hold(lock_);
  if (making_ && making_->state == SetMaking::State::making)
    return fail(Error::Kind::conflict, "a set is being made already", "set", making_->wish.purpose,
                "wait for it, or stop it");
  making_ = SetMaking{SetMaking::State::making, wish, 0, 0, {}, {}, {}};
  worker_ = std::jthread([this, wish, display, name, options](const std::stop_token& stop) {
    work(wish, options, display, name, stop);
  });
  return *making_;
}

Result<SetMaking> PlateWorkshop::make_for(const std::string& display) {
  if (display == in_use_.display)
    return fail(Error::Kind::usage, "the plates in use were made for " + display, "display",
                display, "name another display");
  const SetWish wish = same_again(in_use_, display);
  for (const SetSummary& one : sets()) {
    if (one.contents.display != display || !check_same_plates(in_use_, one.contents)) continue;
    tell(one.contents);
    const std::size_t plates = one.contents.plates.size();
    return SetMaking{SetMaking::State::made, wish, plates, plates, one.set, {}, {}};
  }
  return make(wish);
}

void PlateWorkshop::when_made(std::function<void(const PlateSet&)> tell) {
  const std::scoped_lock hold(telling_);
  tell_ = std::move(tell);
}

void PlateWorkshop::tell(const PlateSet& set) {
  const std::scoped_lock hold(telling_);
  if (tell_) tell_(set);
}

void PlateWorkshop::work(const SetWish& wish, MakeOptions options, const Display& display,
                         const std::string& name, const std::stop_token& stop) {
  options.stop = stop;
  options.progress = [this](std::size_t done, std::size_t of) {
    const std::scoped_lock hold(lock_);
    making_->done = done;
    making_->of = of;
  };
  const auto set = make_set(wish.purpose, display, wish.seed, options);
  Result<void> saved;
  if (set) {
    std::error_code error;
    fs::create_directories(directory_, error);
    saved = save_set(*set, directory_ / name);
  }
  if (set && saved) tell(*set);
  const std::scoped_lock hold(lock_);
  if (set && saved) {
    making_->state = SetMaking::State::made;
    making_->set = name;
    return;
  }
  const Error& why = set ? saved.error() : set.error();
  making_->state =
      why.kind == Error::Kind::stopped ? SetMaking::State::stopped : SetMaking::State::failed;
  making_->message = why.message;
  making_->remedy = why.remedy;
}

void PlateWorkshop::stop() {
  const std::scoped_lock hold(lock_);
  worker_.request_stop();
}

std::optional<SetMaking> PlateWorkshop::making() const {
  const std::scoped_lock hold(lock_);
  return making_;
}

Result<std::vector<ShelfPlate>> PlateWorkshop::plates(std::string_view name) {
  COPUNCTAL_TRY(const PlateSet set, found(name));
  {
    const std::scoped_lock hold(lock_);
    if (const auto known = shelf_.find(set.hash); known != shelf_.end()) return *known->second;
  }
  COPUNCTAL_TRY(const Display display, display_of_set(set));
  constexpr std::size_t individuals = 100;
  const CodeLight light(display.curves);
  auto shelf = std::make_shared<std::vector<ShelfPlate>>(set.plates.size());
  parallel_for(set.plates.size(), [&](std::size_t p) {
    const Plate& plate = set.plates[p];
    const PlateReader reader = reader_of(set, plate, light);
    const std::vector<std::size_t> drawn = reader.drawn_on(plate);
    ShelfPlate& to = (*shelf)[p];
    to.plate = plate;
    for (const std::string& observer : standard_observers()) {
      const Observer who = *observer_from(observer);
      const PredictedReading read =
          predicted_reading(reader, drawn, fresh_eyes(who, display, individuals, 1));
      to.readings.push_back({observer, read.intended, read.second,
                             margins_in_words(reader, plate, nominal_eye(who, display))});
    }
  });
  const std::scoped_lock hold(lock_);
  shelf_[set.hash] = shelf;
  return *shelf;
}

std::shared_ptr<const Picture> PlateWorkshop::drawn(const PlateSet& set, std::size_t plate,
                                                    int size_px, const Display& display) {
  const auto key = std::pair(set.hash, plate);
  {
    const std::scoped_lock hold(lock_);
    if (const auto known = drawn_.find(key); known != drawn_.end()) return known->second;
  }
  auto picture =
      std::make_shared<const Picture>(draw(set.plates[plate], size_px, CodeLight(display.curves)));
  const std::scoped_lock hold(lock_);
  constexpr std::size_t most_kept = 24;
  if (drawn_.size() >= most_kept) drawn_.clear();
  drawn_[key] = picture;
  return picture;
}

Result<ShelfPicture> PlateWorkshop::picture(std::string_view name, std::size_t plate,
                                            const std::string& observer) {
  COPUNCTAL_TRY(const PlateSet set, found(name));
  COPUNCTAL_TRY_VOID(check_plate(set, plate));
  COPUNCTAL_TRY(const Display display, display_of_set(set));
  constexpr int size_px = 400;
  Picture picture = drawn(set, plate, size_px, display)->clone();
  ShelfPicture seen{{}, size_px, "original", std::string(colour_space_of(display))};
  if (observer != "original") {
    COPUNCTAL_TRY(const Observer who, observer_from(observer));
    COPUNCTAL_TRY(ViewMap map, ViewMap::make(who, display));
    map.apply(picture.rgb);
    seen.method = name_of(map.method());
  }
  seen.bytes = std::make_shared<const std::vector<std::uint8_t>>(std::move(picture.rgb));
  return seen;
}

Result<std::string> PlateWorkshop::readers(std::string_view name, std::size_t plate) {
  COPUNCTAL_TRY(const PlateSet set, found(name));
  COPUNCTAL_TRY_VOID(check_plate(set, plate));
  COPUNCTAL_TRY(const Display display, display_of_set(set));
  return readers_rows_svg(set, set.plates[plate].name, display);
}

Result<std::string> PlateWorkshop::apart(std::string_view name, std::size_t plate,
                                         const std::string& observer) {
  COPUNCTAL_TRY(const PlateSet set, found(name));
  COPUNCTAL_TRY_VOID(check_plate(set, plate));
  COPUNCTAL_TRY(const Observer who, observer_from(observer));
  COPUNCTAL_TRY(const Display display, display_of_set(set));
  return apart_svg(set, set.plates[plate].name, who, display);
}

}  // namespace copunctal
