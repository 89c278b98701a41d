#include "copunctal/app/room_show.h"

#include <algorithm>
#include <numeric>
#include <set>

#include "copunctal/app/run_sitting_checks.h"
#include "copunctal/base/text.h"
#include "copunctal/display/keep_display.h"
#include "copunctal/plate/draw.h"
#include "copunctal/plate/symbols.h"

namespace copunctal {
namespace {

constexpr std::size_t phases = 3;
constexpr const char* no_figure = "no figure";

/// A fork plate's two figures may both be read; of two in one place only one can be.
int figures_of(const Plate& plate) {
  return plate.kind == PlateKind::fork || plate.kind == PlateKind::ladder ? 2 : 1;
}

bool has_read_as_drawn(const Plate& plate, const std::vector<std::string>& symbols) {
  return read_as_drawn(plate, symbols);
}

tl::unexpected<Error> no_such_show() {
  return fail(Error::Kind::not_found, "there is no such show", "show", "",
              "begin one on the page of plates");
}

}  // namespace

std::string_view name_of(ShowPhase phase) {
  switch (phase) {
    case ShowPhase::blank:
      return "blank";
    case ShowPhase::plate:
      return "plate";
    case ShowPhase::revealed:
      return "revealed";
  }
  return {};
}

std::vector<std::optional<std::size_t>> without_small_cells(const std::vector<std::size_t>& cells) {
  constexpr auto least = static_cast<std::size_t>(smallest_cell);
  std::vector<std::optional<std::size_t>> told(cells.begin(), cells.end());
  std::size_t hidden = 0;
  for (auto& cell : told)
    if (*cell < least) {
      hidden += *cell;
      cell.reset();
    }
  // Who knows how many answered could work out what little is left: hide the next smallest too.
  while (hidden > 0 && hidden < least) {
    auto next = told.end();
    for (auto at = told.begin(); at != told.end(); ++at)
      if (*at && (next == told.end() || **at < **next)) next = at;
    if (next == told.end()) break;
    hidden += **next;
    next->reset();
  }
  return told;
}

struct ShowDesk::Show {
  std::string id, name;
  PlateSet set;
  Display display;
  std::size_t step = 0;
  std::int64_t plate_since_ns = 0;
  std::set<std::size_t> revealed;  ///< Places that take no more answers.
  std::map<std::size_t, std::map<int, std::vector<std::string>>> answers;  ///< By place, device.
  std::map<std::pair<std::size_t, int>, std::shared_ptr<const std::vector<std::uint8_t>>> drawn;

  std::size_t plates() const { return set.plates.size(); }
  bool is_over() const { return step == phases * plates(); }
  std::size_t place() const { return is_over() ? plates() - 1 : step / phases; }
  ShowPhase phase() const {
    return is_over() ? ShowPhase::blank : static_cast<ShowPhase>(step % phases);
  }
  bool is_open() const { return phase() == ShowPhase::plate && !revealed.contains(place()); }
};

ShowDesk::ShowDesk(const PlateWorkshop& workshop, RandomBytes random,
                   std::function<std::int64_t()> steady_ns)
    : workshop_(workshop), random_(std::move(random)), steady_ns_(std::move(steady_ns)) {}

Result<ShowState> ShowDesk::begin(std::string_view set) {
  auto show = std::make_shared<Show>();
  COPUNCTAL_TRY(show->set, workshop_.set_named(set));
  COPUNCTAL_TRY(show->display, display_of_set(show->set));
  show->id = new_id(random_);
  show->name = set;
  const std::lock_guard lock(mutex_);
  show_ = std::move(show);
  return state_of(*show_);
}

Result<const ShowDesk::Show*> ShowDesk::found(std::string_view id) const {
  if (show_ == nullptr || show_->id != id) return no_such_show();
  return show_.get();
}

Result<ShowState> ShowDesk::state(std::string_view id) const {
  const std::lock_guard lock(mutex_);
  COPUNCTAL_TRY(const Show* show, found(id));
  return state_of(*show);
}

ShowState ShowDesk::state_of(const Show& show) const {
  ShowState state;
  state.id = show.id;
  state.set = show.name;
  state.step = show.step;
  state.steps = phases * show.plates();
  state.place = show.place();
  state.of = show.plates();
  state.phase = show.phase();
  state.is_over = show.is_over();
  constexpr std::int64_t ns_a_ms = 1'000'000;
  if (state.phase != ShowPhase::blank)
    state.on_for_ms = (steady_ns_() - show.plate_since_ns) / ns_a_ms;
  state.plate = show.set.plates[state.place];
  state.display = show.display.name;
  state.colour_space = colour_space_of(show.display);

  ShowTally& tally = state.tally;
  const auto given = show.answers.find(state.place);
  if (given == show.answers.end()) {
    tally.is_told = show.revealed.contains(state.place);
    tally.as_drawn = read_share(0, 0);
    return state;
  }
  tally.answered = given->second.size();
  tally.is_told = show.revealed.contains(state.place);
  if (!tally.is_told) return state;
  const auto& row = answer_row(show.set, state.plate);
  std::vector<std::string> names = row;
  names.emplace_back(no_figure);
  if (figures_of(state.plate) == 2) names.emplace_back("two figures");
  std::vector<std::size_t> counts(names.size());
  std::int64_t as_drawn = 0;
  for (const auto& [device, symbols] : given->second) {
    const auto at = symbols.empty() ? row.size()
                    : symbols.size() > 1
                        ? row.size() + 1
                        : static_cast<std::size_t>(
                              std::find(row.begin(), row.end(), symbols.front()) - row.begin());
    ++counts.at(at);
    if (has_read_as_drawn(state.plate, symbols)) ++as_drawn;
  }
  const auto told = without_small_cells(counts);
  for (std::size_t i = 0; i < names.size(); ++i) tally.cells.emplace_back(names[i], told[i]);
  tally.as_drawn = read_share(as_drawn, static_cast<std::int64_t>(tally.answered));
  return state;
}

Result<ShowState> ShowDesk::go_to(std::string_view id, std::size_t step) {
  const std::lock_guard lock(mutex_);
  COPUNCTAL_TRY_VOID(found(id));
  Show& show = *show_;
  if (step > phases * show.plates()) return wrong_field("step", "is beyond the last");
  const bool stood = show.phase() != ShowPhase::blank;
  const std::size_t before = show.place();
  show.step = step;
  if (show.phase() != ShowPhase::blank && (!stood || before != show.place()))
    show.plate_since_ns = steady_ns_();
  if (show.phase() == ShowPhase::revealed) show.revealed.insert(show.place());
  return state_of(show);
}

Result<void> ShowDesk::end(std::string_view id) {
  const std::lock_guard lock(mutex_);
  COPUNCTAL_TRY_VOID(found(id));
  show_.reset();
  return {};
}

Result<ShelfPicture> ShowDesk::picture(std::string_view id, std::size_t place, int size_px) const {
  constexpr int least = 200, most = 1600;
  std::shared_ptr<Show> show;
  {
    const std::lock_guard lock(mutex_);
    COPUNCTAL_TRY_VOID(found(id));
    show = show_;
    if (place >= show->plates()) return wrong_field("place", "is beyond the last plate");
    if (size_px < least || size_px > most) return wrong_field("size", "must be from 200 to 1600");
    if (const auto known = show->drawn.find({place, size_px}); known != show->drawn.end())
      return ShelfPicture{known->second, size_px, "original",
                          std::string(colour_space_of(show->display))};
  }
  // Drawn without the lock: it takes a moment, and phones ask meanwhile.
  Picture picture = draw(show->set.plates[place], size_px, CodeLight(show->display.curves));
  auto bytes = std::make_shared<const std::vector<std::uint8_t>>(std::move(picture.rgb));
  const std::lock_guard lock(mutex_);
  constexpr std::size_t most_kept = 8;
  if (show->drawn.size() >= most_kept) show->drawn.clear();
  show->drawn[{place, size_px}] = bytes;
  return ShelfPicture{bytes, size_px, "original", std::string(colour_space_of(show->display))};
}

PhoneShow ShowDesk::phone_of(const Show& show, int device) const {
  const Plate& plate = show.set.plates[show.place()];
  const auto& row = answer_row(show.set, plate);
  PhoneShow phone{
      show.id,           show.place(), show.plates(),
      show.is_open(),    row,          family_of(row.front()).value_or(SymbolFamily::digits),
      figures_of(plate), std::nullopt};
  if (const auto given = show.answers.find(show.place()); given != show.answers.end())
    if (const auto mine = given->second.find(device); mine != given->second.end())
      phone.mine = mine->second;
  return phone;
}

std::optional<PhoneShow> ShowDesk::for_phone(int device) const {
  const std::lock_guard lock(mutex_);
  if (show_ == nullptr) return std::nullopt;
  return phone_of(*show_, device);
}

Result<PhoneShow> ShowDesk::answer(int device, std::size_t place,
                                   const std::vector<std::string>& symbols) {
  const std::lock_guard lock(mutex_);
  if (show_ == nullptr) return no_such_show();
  Show& show = *show_;
  if (place != show.place() || !show.is_open())
    return fail(Error::Kind::conflict, "this plate takes no more answers", "show", "",
                "wait for the next plate");
  const Plate& plate = show.set.plates[place];
  COPUNCTAL_TRY_VOID(check_symbols(symbols, answer_row(show.set, plate), figures_of(plate)));
  show.answers[place][device] = symbols;
  return phone_of(show, device);
}

}  // namespace copunctal
