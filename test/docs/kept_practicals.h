// A directory of practicals as a server left it, for tests of the commands that look after it.
#pragma once

#include <filesystem>

#include "copunctal/store/sample_records.h"
#include "copunctal/store/store.h"

namespace copunctal {

/// Practical 1 ("=quiet, harbour"), with a finished sitting 11 of two answers and a running sitting
/// 12, and practical 2 without sittings, in DIR/copunctal.db. The store is open: it holds DIR.
inline std::unique_ptr<Store> kept_practicals(const std::filesystem::path& directory) {
  auto store = Store::open(directory, "2030-01-02T03:04:05.678Z");
  if (!store) throw std::runtime_error(store.error().message);
  const auto filled =
      (*store)
          ->change<bool>([](Changes& changes) -> Result<bool> {
            PracticalRecord practical = sample_practical(1);
            practical.name = "=quiet, harbour";
            COPUNCTAL_TRY_VOID(changes.add(practical));
            COPUNCTAL_TRY_VOID(changes.add(sample_practical(2)));
            COPUNCTAL_TRY_VOID(changes.add(sample_sitting(11)));
            COPUNCTAL_TRY_VOID(changes.add(sample_sitting(12)));
            COPUNCTAL_TRY_VOID(changes.add(sample_answer(101, 0, 11)));
            AnswerRecord unread = sample_answer(102, 1, 11);
            unread.symbols = {};
            COPUNCTAL_TRY_VOID(changes.add(unread));
            COPUNCTAL_TRY_VOID(changes.end_sitting(sample_id(11), "2030-01-02T03:20:00.000Z"));
            return true;
          })
          .get();
  if (!filled) throw std::runtime_error(filled.error().message);
  return *std::move(store);
}

}  // namespace copunctal
