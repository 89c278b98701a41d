#include "copunctal/app/run_sitting.h"

#include <algorithm>
#include <array>
#include <deque>
#include <functional>
#include <future>
#include <map>
#include <mutex>
#include <thread>
#include <utility>

#include "copunctal/app/display_desk.h"
#include "copunctal/app/examine_sitting.h"
#include "copunctal/app/loan_shelf.h"
#include "copunctal/app/run_course.h"
#include "copunctal/app/run_practical.h"
#include "copunctal/app/run_sitting_checks.h"
#include "copunctal/app/run_sitting_rounds.h"
#include "copunctal/app/run_sitting_sight.h"
#include "copunctal/base/expects.h"
#include "copunctal/base/random.h"
#include "copunctal/display/keep_display.h"
#include "copunctal/plate/draw.h"
#include "copunctal/store/store.h"

namespace copunctal {
namespace {

constexpr std::int64_t grace_ms = 10'000;

PictureBytes bytes_of(Picture picture) {
  return std::make_shared<const std::vector<std::uint8_t>>(std::move(picture.rgb));
}

std::vector<ShownSet*> pointers_to(const std::vector<std::unique_ptr<ShownSet>>& sets) {
  std::vector<ShownSet*> all;
  all.reserve(sets.size());
  for (const auto& set : sets) all.push_back(set.get());
  return all;
}

/// Sittings of which nothing is stored.
class OffRecord {
 public:
  void begin(Sight sight) {
    const std::scoped_lock hold(lock_);
    constexpr std::size_t most_kept = 1000;
    if (order_.size() == most_kept) {
      kept_.erase(order_.front());
      order_.pop_front();
    }
    order_.push_back(sight.sitting.id);
    const std::string id = sight.sitting.id;
    kept_.emplace(id, std::move(sight));
  }
  std::optional<Sight> find(std::string_view id) const {
    const std::scoped_lock hold(lock_);
    const auto at = kept_.find(id);
    return at == kept_.end() ? std::nullopt : std::optional(at->second);
  }
  /// Nothing where the sitting is not one of these. `change` works on the one that is kept.
  template <class T>
  std::optional<T> change(std::string_view id, const std::function<T(Sight&)>& change) {
    const std::scoped_lock hold(lock_);
    const auto at = kept_.find(id);
    return at == kept_.end() ? std::nullopt : std::optional(change(at->second));
  }
  bool remove(std::string_view id) {
    const std::scoped_lock hold(lock_);
    const auto at = kept_.find(id);
    if (at == kept_.end()) return false;
    kept_.erase(at);
    std::erase(order_, id);
    return true;
  }

 private:
  mutable std::mutex lock_;
  std::map<std::string, Sight, std::less<>> kept_;
  std::deque<std::string> order_;
};

}  // namespace

PracticalSummary summary_of(const PracticalRecord& record) {
  return {.id = record.id,
          .name = record.name,
          .created_utc = record.created_utc,
          .display = record.display,
          .set_hash = record.set_hash,
          .plates = record.plates,
          .exposure_ms = record.exposure_ms,
          .grace_ms = record.grace_ms,
          .sittings = record.sittings,
          .state = record.state,
          .loans = record.loans,
          .card_sha256 = record.card_sha256.value_or(""),
          .opened_utc = record.opened_utc.value_or(""),
          .closed_utc = record.closed_utc.value_or(""),
          .course = record.course,
          .group = record.group,
          .lateness = record.lateness,
          .keep_until = record.keep_until.value_or(""),
          .again = record.again};
}

std::string_view name_of(Tell tell) {
  switch (tell) {
    case Tell::tell:
      return "tell";
    case Tell::dont_tell:
      return "dont_tell";
    case Tell::later:
      return "later";
  }
  return "";
}

struct SittingDesk::Inside {
  Store& store;
  const TablesBuilder build_tables;
  ShownSet shown;
  mutable std::mutex also_lock;
  /// The same plates for other displays: more may come, none goes.
  std::vector<std::unique_ptr<ShownSet>> also;
  const PlateSet& set;
  const DeskClocks clocks;
  const RandomBytes random;
  DisplayDesk displays;
  std::mutex lent_lock;
  std::map<std::pair<std::string, std::int64_t>, PictureBytes> lent_drawn;
  OffRecord off_record;
  LoanShelf loans;
  std::optional<PracticalDesk> classes;
  std::optional<ExaminerDesk> examiners;
  std::optional<CourseDesk> courses;
  /// The last of all: what they work on goes after them.
  std::vector<std::jthread> building;

  Inside(Store& s, PlateSet plates, DeskClocks c, RandomBytes r, TablesBuilder builder,
         std::vector<PlateSet> others, Store& screens)
      : store(s),
        build_tables(std::move(builder)),
        shown(std::move(plates)),
        set(shown.set()),
        clocks(std::move(c)),
        random(std::move(r)),
        displays(screens, clocks.utc, random),
        loans(set) {
    for (PlateSet& other : others) also.push_back(std::make_unique<ShownSet>(std::move(other)));
    building.emplace_back([this, first = pointers_to(also)] {
      shown.build(build_tables);
      for (ShownSet* const other : first) other->build(build_tables);
    });
    classes.emplace(PracticalDesk::Rests{store, set, clocks, shown.tables(), loans});
    examiners.emplace(ExaminerDesk::Rests{store, set, clocks, random});
    courses.emplace(CourseDesk::Rests{store, set, clocks, random, shown.tables()});
  }
  Inside(const Inside&) = delete;
  Inside& operator=(const Inside&) = delete;
  ~Inside() = default;

  Result<void> add(PlateSet plates) {
    COPUNCTAL_TRY_VOID(check_same_plates(set, plates));
    const std::scoped_lock hold(also_lock);
    if (plates.display == set.display || find_on(plates.display) != nullptr)
      return fail(Error::Kind::conflict, "there are plates for " + plates.display + " already",
                  "display", plates.display, "use those");
    ShownSet* const added = also.emplace_back(std::make_unique<ShownSet>(std::move(plates))).get();
    building.emplace_back([this, added] { added->build(build_tables); });
    return {};
  }

  Result<Sight> sight_of(std::string_view sitting) const {
    if (auto sight = off_record.find(sitting)) return *std::move(sight);
    return store.read<Sight>(
        [&](const Records& records) { return look_up(records, set, sitting); });
  }

  /// The plates a sitting is shown. Error: conflict where their set is not loaded.
  Result<const ShownSet*> shown_in(const Sight& sight) const {
    if (!sight.sitting.set_hash) return &shown;
    {
      const std::scoped_lock hold(also_lock);
      for (const auto& other : also)
        if (other->set().hash == *sight.sitting.set_hash) return other.get();
    }
    PracticalRecord wanted = sight.practical;
    wanted.set_hash = *sight.sitting.set_hash;
    return other_set(wanted);
  }

  /// The plates for a display; the practical's own where there are none for it.
  const ShownSet& shown_on(const std::string& display) const {
    const std::scoped_lock hold(also_lock);
    const ShownSet* const other = find_on(display);
    return other == nullptr ? shown : *other;
  }
  /// With the lock held; null where there is none.
  const ShownSet* find_on(const std::string& display) const {
    const auto at = std::find_if(also.begin(), also.end(), [&](const auto& other) {
      return other->set().display == display;
    });
    return at == also.end() ? nullptr : at->get();
  }
  std::vector<std::string> displays_with_plates() const {
    const std::scoped_lock hold(also_lock);
    std::vector<std::string> names = {set.display};
    for (const auto& other : also) names.push_back(other->set().display);
    return names;
  }

  /// A plate as its sitting shows it: with lent eyes by other codes.
  Result<PictureBytes> picture_in(const Sight& sight, std::int64_t plate) {
    const std::optional<std::string>& loan = sight.sitting.loan;
    if (!loan || *loan == "own") {
      COPUNCTAL_TRY(const ShownSet* const plates, shown_in(sight));
      return plates->picture(plate);
    }
    const std::pair key(*loan, plate);
    {
      const std::scoped_lock hold(lent_lock);
      if (const auto at = lent_drawn.find(key); at != lent_drawn.end()) return at->second;
    }
    COPUNCTAL_TRY(const auto lent, loans.plates(*loan));
    const auto number = static_cast<std::size_t>(plate);
    if (!lent->codes[number]) return no_such("plate");
    PictureBytes bytes = shown.picture_with(plate, *lent->codes[number]);
    const std::scoped_lock hold(lent_lock);
    return lent_drawn.emplace(key, std::move(bytes)).first->second;
  }
};

namespace {

// The arm with the fewest people so far, among equals by lot: own eyes, or one of the loans.
Result<std::string> drawn_by_lot(const Records& records, const PracticalRecord& practical,
                                 std::uint64_t seed) {
  std::vector<std::string> arms = practical.loans;
  arms.emplace_back("own");
  COPUNCTAL_TRY(const auto taken, records.loans_of(practical.id));
  const auto people_in = [&](const std::string& arm) {
    for (const auto& [loan, people] : taken)
      if (loan == arm) return people;
    return std::int64_t{0};
  };
  constexpr std::uint32_t lot = 17;
  RandomStream(seed, lot).shuffle(arms);
  return *std::min_element(arms.begin(), arms.end(), [&](const auto& a, const auto& b) {
    return people_in(a) < people_in(b);
  });
}

Result<void> check_open(const PracticalRecord& practical) {
  if (practical.state == "open") return {};
  return fail(
      Error::Kind::conflict,
      practical.state == "closed" ? "this practical is closed" : "this practical is not open yet",
      "practical", "", "ask whoever runs it");
}

// Two words that nobody else has in this practical; with a number where those tried are taken.
Result<std::string> pseudonym_for(const Records& records, const PracticalRecord& practical,
                                  std::uint64_t seed) {
  std::array<std::string, 16> names;
  for (std::uint64_t i = 0;; i += names.size()) {
    for (std::uint64_t j = 0; j < names.size(); ++j) {
      names[j] = two_words(seed + i + j);
      if (i > 0) names[j] += " " + std::to_string(i - names.size() + j + 2);
    }
    COPUNCTAL_TRY(const auto taken, records.pseudonyms_among(practical.id, names));
    for (const std::string& name : names)
      if (taken.count(name) == 0) return name;
  }
}

}  // namespace

SittingDesk::SittingDesk(std::unique_ptr<Inside> inside) : inside_(std::move(inside)) {}
SittingDesk::~SittingDesk() = default;

Result<std::unique_ptr<SittingDesk>> SittingDesk::open(Store& store, PlateSet set,
                                                       DeskClocks clocks, RandomBytes random,
                                                       TablesBuilder build_tables,
                                                       std::vector<PlateSet> also, Store* screens) {
  COPUNCTAL_TRY_VOID(check_sittable(set));
  for (const PlateSet& other : also) COPUNCTAL_TRY_VOID(check_same_plates(set, other));
  return std::unique_ptr<SittingDesk>(new SittingDesk(std::make_unique<Inside>(
      store, std::move(set), std::move(clocks), std::move(random), std::move(build_tables),
      std::move(also), screens == nullptr ? store : *screens)));
}

Result<std::string> SittingDesk::colour_space(std::string_view sitting) const {
  COPUNCTAL_TRY(const Sight sight, inside_->sight_of(sitting));
  COPUNCTAL_TRY(const ShownSet* const plates, inside_->shown_in(sight));
  return plates->colour_space();
}

std::vector<std::string> SittingDesk::displays_with_plates() const {
  return inside_->displays_with_plates();
}

Result<void> SittingDesk::add_plates(PlateSet set) {
  return inside_->add(std::move(set));
}

PracticalDesk& SittingDesk::classes() {
  return *inside_->classes;
}

ExaminerDesk& SittingDesk::examiners() {
  return *inside_->examiners;
}

CourseDesk& SittingDesk::courses() {
  return *inside_->courses;
}

DisplayDesk& SittingDesk::displays() {
  return inside_->displays;
}

Result<std::vector<PracticalSummary>> SittingDesk::practicals() const {
  COPUNCTAL_TRY(const auto records, inside_->store.read<std::vector<PracticalRecord>>(
                                        [](const Records& stored) { return stored.practicals(); }));
  std::vector<PracticalSummary> summaries;
  summaries.reserve(records.size());
  for (const PracticalRecord& record : records) summaries.push_back(summary_of(record));
  return summaries;
}

Result<PracticalSummary> SittingDesk::create_practical(const NewPractical& wish) {
  PracticalRecord record{
      .id = new_id(inside_->random),
      .name = wish.name ? *wish.name : two_words(new_seed(inside_->random)),
      .created_utc = inside_->clocks.utc(),
      .display = inside_->set.display,
      .set_hash = inside_->set.hash,
      .plates = static_cast<std::int64_t>(inside_->set.plates.size()),
      .exposure_ms = wish.exposure_ms.value_or(
          inside_->set.family == SymbolFamily::paths ? path_exposure_ms : usual_exposure_ms),
      .grace_ms = grace_ms,
      .state = wish.prepare ? "preparing" : "open",
      .course = wish.course,
      .group = wish.group,
      .lateness = wish.lateness,
      .again = wish.again,
      .keep_until = wish.keep_until};
  for (const std::string& observer : wish.loans) {
    COPUNCTAL_TRY(const Observer lent, observer_from(observer));
    if (lent.kind == ObserverKind::normal || lent.kind == ObserverKind::rod_monochromat ||
        lent.kind == ObserverKind::s_cone_monochromat)
      return wrong_field(
          "loans", "cannot lend " + observer + ": protan, deutan and tritan observers can be lent");
    if (std::find(record.loans.begin(), record.loans.end(), name_of(lent)) != record.loans.end())
      return wrong_field("loans", "names " + observer + " twice");
    record.loans.push_back(name_of(lent));
  }
  if (!record.loans.empty() && !wish.prepare)
    return wrong_field("loans", "need a practical that is prepared first");
  for (const std::string& observer : record.loans) inside_->loans.want(observer);
  COPUNCTAL_TRY_VOID(check_practical(record));
  return inside_->store
      .change<PracticalSummary>([record](Changes& changes) -> Result<PracticalSummary> {
        if (auto added = changes.add(record); !added)
          return tl::unexpected(std::move(added).error());
        return summary_of(record);
      })
      .get();
}

Result<SittingState> SittingDesk::begin_sitting(std::string_view practical,
                                                const NewSitting& wish) {
  if (!wish.consent) return wrong_field("consent", "must be given before a sitting can begin");
  SittingRecord record;
  record.id = new_id(inside_->random);
  record.practical_id = practical;
  record.tell = name_of(wish.tell);
  if (wish.sex_at_birth)
    record.sex_at_birth = *wish.sex_at_birth == SexAtBirth::female ? "female" : "male";
  record.order_seed = new_seed(inside_->random);
  record.state = "running";
  record.consent_text = consent_text;
  record.for_class = wish.for_class;
  record.for_research = wish.for_research;
  COPUNCTAL_TRY_VOID(check_way(wish));
  if (wish.examined) {
    record.way = "examined";
    record.eye = wish.eye;
    record.person = new_id(inside_->random);
  }
  record.consented_utc = record.created_utc = inside_->clocks.utc();
  record.items = lay_out_items(inside_->set, record.order_seed, inside_->random);
  // What is lent is drawn on the practical's own set.
  const PlateSet& plates = inside_->shown_on(wish.on_loan ? "" : wish.display).set();
  if (plates.hash != inside_->set.hash) {
    record.set_hash = plates.hash;
    record.display = plates.display;
  }
  if (wish.off_record) {
    if (wish.on_loan)
      return wrong_field("on_loan", "needs a sitting that is kept: a lot is told afterwards");
    COPUNCTAL_TRY(auto its_practical,
                  inside_->store.read<std::optional<PracticalRecord>>(
                      [&](const Records& stored) { return stored.practical(practical); }));
    if (!its_practical) return no_such("practical");
    if (its_practical->set_hash != inside_->set.hash) return other_set(*its_practical);
    COPUNCTAL_TRY_VOID(check_open(*its_practical));
    record.pseudonym = two_words(record.order_seed);
    const Sight sight{std::move(record), *std::move(its_practical), {}, true};
    inside_->off_record.begin(sight);
    return state_in(inside_->set, sight);
  }
  if (wish.on_loan) {
    // Nobody else shall wait while plates are drawn: after a restart they may have to be.
    COPUNCTAL_TRY(const auto asked,
                  inside_->store.read<std::optional<PracticalRecord>>(
                      [&](const Records& stored) { return stored.practical(practical); }));
    if (asked)
      for (const std::string& observer : asked->loans)
        COPUNCTAL_TRY_VOID(inside_->loans.plates(observer));
  }
  return inside_->store
      .change<SittingState>(
          [this, laid_out = std::move(record),
           on_loan = wish.on_loan](Changes& changes) -> Result<SittingState> {
            SittingRecord sitting = laid_out;  // the store may have to try again
            COPUNCTAL_TRY(auto its_practical, changes.practical(sitting.practical_id));
            if (!its_practical) return no_such("practical");
            if (its_practical->set_hash != inside_->set.hash) return other_set(*its_practical);
            COPUNCTAL_TRY_VOID(check_open(*its_practical));
            COPUNCTAL_TRY(sitting.pseudonym,
                          pseudonym_for(changes, *its_practical, sitting.order_seed));
            if (on_loan) {
              if (its_practical->loans.empty())
                return wrong_field("loan", "is not offered in this practical");
              COPUNCTAL_TRY(sitting.loan,
                            drawn_by_lot(changes, *its_practical, sitting.order_seed));
              if (*sitting.loan != "own") {
                COPUNCTAL_TRY(const auto lent, inside_->loans.plates(*sitting.loan));
                std::erase_if(sitting.items, [&](const ItemRecord& item) {
                  return !lent->codes[static_cast<std::size_t>(item.plate)];
                });
              }
            }
            if (auto added = changes.add(sitting); !added)
              return tl::unexpected(std::move(added).error());
            return state_in(inside_->set, {sitting, *std::move(its_practical), {}, false});
          },
          {.practical = std::string(practical)})
      .get();
}

Result<SittingState> SittingDesk::state_of(std::string_view sitting) const {
  COPUNCTAL_TRY(const Sight sight, inside_->sight_of(sitting));
  return state_in(inside_->set, sight);
}

Result<PictureBytes> SittingDesk::plate_picture(std::string_view sitting,
                                                std::string_view plate) const {
  COPUNCTAL_TRY(const Sight sight, inside_->sight_of(sitting));
  const Progress progress = progress_of(inside_->set, sight.sitting.items, sight.answers);
  for (const ItemRecord& item : sight.sitting.items)
    if (item.plate_id == plate && progress.has_reached(item.round))
      return inside_->picture_in(sight, item.plate);
  return no_such("plate");
}

Result<AnswerReceipt> SittingDesk::put_answer(std::string_view sitting, std::string_view answer_id,
                                              const SentAnswer& answer) {
  if (!is_id(answer_id))
    return wrong_field("answer id", "must be 32 lower-case hexadecimal digits");
  if (auto good = check_answer(answer); !good) return tl::unexpected(std::move(good).error());
  const AnswerRecord record{.id = std::string(answer_id),
                            .sitting_id = std::string(sitting),
                            .item = answer.item,
                            .symbols = answer.symbols,
                            .end = answer.end,
                            .onset_ms = answer.onset_ms,
                            .response_ms = answer.response_ms,
                            .shown_ms = answer.shown_ms,
                            .frames = answer.frames,
                            .hidden = answer.hidden,
                            .page_load = answer.page_load,
                            .body_sha256 = body_hash(answer),
                            .received_utc = inside_->clocks.utc(),
                            .received_steady_ns = inside_->clocks.steady_ns(),
                            .dropped = answer.dropped,
                            .hesitated = answer.hesitated,
                            .first_symbols = answer.first_symbols,
                            .strokes = answer.strokes};
  if (auto off = inside_->off_record.change<Result<Settled>>(sitting, [&](Sight& sight) {
        std::optional<AuditReason> audit;
        const auto known = std::find_if(sight.answers.begin(), sight.answers.end(),
                                        [&](const auto& one) { return one.id == record.id; });
        return judged(inside_->set, sight, record,
                      known == sight.answers.end() ? std::nullopt : std::optional(*known),
                      inside_->random, audit);
      })) {
    COPUNCTAL_TRY(Settled settled, *std::move(off));
    if (settled.refusal) return tl::unexpected(*std::move(settled.refusal));
    return std::move(settled.receipt);
  }
  COPUNCTAL_TRY(Settled settled, inside_->store
                                     .change<Settled>(
                                         [this, record](Changes& changes) {
                                           return settle(changes, inside_->set, record,
                                                         inside_->random);
                                         },
                                         {.sitting = record.sitting_id, .answer = record.id})
                                     .get());
  if (settled.refusal) return tl::unexpected(*std::move(settled.refusal));
  return std::move(settled.receipt);
}

Result<SittingState> SittingDesk::choose(std::string_view sitting, Tell tell) {
  if (tell == Tell::later) return wrong_field("tell", "must be 'tell' or 'dont_tell'");
  const std::string id(sitting);
  const auto chosen_already = [] {
    return fail(Error::Kind::conflict, "this choice has been made already", "sitting", "",
                "a choice is made once; begin another sitting to choose differently");
  };
  if (auto off = inside_->off_record.change<Result<SittingState>>(
          sitting, [&](Sight& sight) -> Result<SittingState> {
            if (tell_in(sight.sitting) != Tell::later) return chosen_already();
            sight.sitting.tell = name_of(tell);
            return state_in(inside_->set, sight);
          }))
    return *std::move(off);
  return inside_->store
      .change<SittingState>(
          [this, id, tell, chosen_already](Changes& changes) -> Result<SittingState> {
            COPUNCTAL_TRY(Sight sight, look_up(changes, inside_->set, id));
            if (tell_in(sight.sitting) != Tell::later) return chosen_already();
            if (auto chosen = changes.choose(id, name_of(tell)); !chosen)
              return tl::unexpected(std::move(chosen).error());
            sight.sitting.tell = name_of(tell);
            return state_in(inside_->set, sight);
          })
      .get();
}

Result<SittingState> SittingDesk::end_before_again(std::string_view sitting) {
  const std::string id(sitting), now = inside_->clocks.utc();
  const auto ended = [this, now](Sight& sight) -> Result<SittingState> {
    const Progress progress = progress_of(inside_->set, sight.sitting.items, sight.answers);
    if (sight.sitting.state == "ended" || progress.round != "again")
      return fail(Error::Kind::conflict, "only the plates that come again may be left out",
                  "sitting", "", "answer the plates, or delete the sitting");
    sight.sitting.state = "ended";
    sight.sitting.ended_utc = now;
    return state_in(inside_->set, sight);
  };
  if (auto off = inside_->off_record.change<Result<SittingState>>(sitting, ended))
    return *std::move(off);
  return inside_->store
      .change<SittingState>([this, id, now, ended](Changes& changes) -> Result<SittingState> {
        COPUNCTAL_TRY(Sight sight, look_up(changes, inside_->set, id));
        COPUNCTAL_TRY(SittingState state, ended(sight));
        COPUNCTAL_TRY_VOID(changes.end_sitting(id, now));
        return state;
      })
      .get();
}

Result<void> SittingDesk::remove_sitting(std::string_view sitting) {
  if (inside_->off_record.remove(sitting)) return {};
  const std::string id(sitting);
  COPUNCTAL_TRY(
      const bool was_there,
      inside_->store.change<bool>([id](Changes& changes) { return changes.remove_sitting(id); })
          .get());
  if (!was_there) return no_such("sitting");
  inside_->courses->forget(sitting);
  return {};
}

namespace {

// A plate's reading when it came again, beside the one that was weighed.
SittingOutcome::Again came_again(const PlateSet& set, const Sight& sight,
                                 const AnswerRecord& answer) {
  const std::int64_t number = item_in(sight.sitting, answer.item)->plate;
  SittingOutcome::Again again{.item = answer.item,
                              .name = set.plates[static_cast<std::size_t>(number)].name,
                              .drawn = drawn_on(set, number),
                              .before = {},
                              .now = answer.symbols};
  for (const AnswerRecord& other : sight.answers) {
    const ItemRecord& item = *item_in(sight.sitting, other.item);
    if (item.plate == number && item.round == "first" && !other.is_void)
      again.before = other.symbols;
  }
  again.agree = (again.before == again.drawn) == (again.now == again.drawn);
  return again;
}

}  // namespace

Result<SittingOutcome> SittingDesk::outcome(std::string_view sitting) const {
  COPUNCTAL_TRY(const Sight sight, inside_->sight_of(sitting));
  if (sight.sitting.state != "ended") return still_running();
  const bool waits = sight.sitting.loan && sight.practical.state != "closed";
  SittingOutcome outcome{.told = !waits && tell_in(sight.sitting) == Tell::tell,
                         .can_choose = tell_in(sight.sitting) == Tell::later,
                         .waits = waits,
                         .lent = waits ? std::string() : sight.sitting.loan.value_or(""),
                         .intended_use = std::string(intended_use()),
                         .whom_to_see = std::string(whom_to_see()),
                         .debrief = std::nullopt,
                         .shown = {},
                         .again = {}};
  if (!outcome.told) return outcome;

  COPUNCTAL_TRY(const ShownSet* const plates, inside_->shown_in(sight));
  const PlateSet& set = plates->set();
  const auto& tables = plates->tables().get();
  if (!tables) return unknown_display(tables.error());
  outcome.debrief = debrief(set, **tables, readings_in(sight.sitting, sight.answers),
                            sight.sitting.loan ? std::nullopt : sex_in(sight.sitting));
  for (const AnswerRecord& answer : sight.answers) {
    const ItemRecord& item = *item_in(sight.sitting, answer.item);
    if (item.round == "again") {
      outcome.again.push_back(came_again(set, sight, answer));
      continue;
    }
    const Plate& plate = set.plates[static_cast<std::size_t>(item.plate)];
    outcome.shown.push_back({.item = answer.item,
                             .round = item.round,
                             .end = answer.end,
                             .is_void = answer.is_void,
                             .hesitated = answer.hesitated,
                             .is_repeat = item.repeats.has_value(),
                             .flaw = flaw_of(answer),
                             .first_symbols = answer.first_symbols,
                             .drawn = score_drawn(plate, answer.strokes)});
  }
  expects(outcome.debrief->plates.size() == outcome.shown.size());
  return outcome;
}

Result<OutcomePicture> SittingDesk::outcome_picture(std::string_view sitting, std::int64_t item,
                                                    const std::string& observer) const {
  COPUNCTAL_TRY(const Sight sight, inside_->sight_of(sitting));
  if (sight.sitting.state != "ended") return still_running();
  if (tell_in(sight.sitting) != Tell::tell)
    return fail(Error::Kind::unsupported, "the outcome of this sitting is not told", "sitting", "",
                "only somebody who asked to be told sees it");
  if (sight.sitting.loan && sight.practical.state != "closed")
    return fail(Error::Kind::conflict, "whose eyes were lent is told once the practical is closed",
                "sitting", "", "come back to this address when it is");
  const bool is_answered =
      std::any_of(sight.answers.begin(), sight.answers.end(),
                  [&](const AnswerRecord& answer) { return answer.item == item; });
  if (!is_answered) return no_such("item");
  const std::int64_t plate = item_in(sight.sitting, item)->plate;
  COPUNCTAL_TRY(const ShownSet* const plates, inside_->shown_in(sight));
  if (observer == "original") return OutcomePicture{plates->picture(plate), {}};
  auto seen = plate_as_seen_by(plates->set(), static_cast<std::size_t>(plate), observer);
  if (!seen) return unknown_observer(std::move(seen).error());
  return OutcomePicture{bytes_of(std::move(seen->picture)), seen->error};
}

}  // namespace copunctal
