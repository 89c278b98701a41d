#include "copunctal/app/loan_shelf.h"

#include <chrono>

#include "copunctal/app/set_readers.h"
#include "copunctal/base/text.h"
#include "copunctal/design/lend.h"

namespace copunctal {
namespace {

Result<std::shared_ptr<const LentPlates>> lent_plates(const PlateSet& set,
                                                      const std::string& observer) {
  COPUNCTAL_TRY(const Display display, display_of_set(set));
  COPUNCTAL_TRY(const Lent lent, lent_observer(observer, display, 1));
  const CodeLight light = light_of(set);
  auto made = std::make_shared<LentPlates>();
  made->observer = lent.observer;
  std::size_t vanishing = 0, kept = 0;
  for (const Plate& plate : set.plates) {
    auto codes = lend(plate, light.linear(plate.codes), reader_of(set, plate, light), lent, light);
    const bool is_vanishing = plate.kind == PlateKind::vanishing;
    vanishing += is_vanishing ? 1U : 0U;
    if (codes) {
      kept += is_vanishing ? 1U : 0U;
      made->codes.emplace_back(std::move(codes->codes));
      continue;
    }
    if (plate.kind == PlateKind::opener) return tl::unexpected(std::move(codes).error());
    made->codes.emplace_back();
    made->left_out.push_back(plate.name);
  }
  if (2 * kept < vanishing)
    return fail(Error::Kind::unsupported,
                "on loan of " + observer + " " + std::to_string(made->left_out.size()) +
                    " plates would have to be left out: " + joined(made->left_out, ", "),
                "loan", observer, "lend another observer, or use another set");
  return made;
}

}  // namespace

void LoanShelf::want(const std::string& observer) {
  const std::scoped_lock hold(lock_);
  if (made_.contains(observer)) return;
  made_.emplace(observer, std::async(std::launch::async, [this, observer] {
                            return lent_plates(set_, observer);
                          }).share());
}

bool LoanShelf::is_ready(const std::string& observer) const {
  const std::scoped_lock hold(lock_);
  const auto at = made_.find(observer);
  return at != made_.end() &&
         at->second.wait_for(std::chrono::seconds(0)) == std::future_status::ready;
}

Result<std::shared_ptr<const LentPlates>> LoanShelf::plates(const std::string& observer) {
  want(observer);
  std::shared_future<Made> made;
  {
    const std::scoped_lock hold(lock_);
    made = made_.at(observer);
  }
  return made.get();
}

}  // namespace copunctal
