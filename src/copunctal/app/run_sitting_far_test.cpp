// An answer at a desk whose store is far: what it costs in ways there and back.
#include "copunctal/app/run_sitting_fixture.h"
#include "copunctal/store/two_databases.h"

using namespace copunctal;

namespace {

struct RunSittingFar : RunSitting {
  StorePlace place{DatabaseKind::postgres};

  void SetUp() override {
    if (const auto why = PostgresServer::missing()) GTEST_SKIP() << *why;
    store = place.store();
    const DeskClocks clocks{[] { return std::string(now); }, [] { return std::int64_t{42}; }};
    desk = *SittingDesk::open(*store, set, clocks, seeded_random(1), no_tables);
  }
};

}  // namespace

TEST_F(RunSittingFar, takes_an_answer_and_a_retry_of_it_in_two_round_trips_each) {
  SittingState state = begin();
  const auto trips_of = [&](const std::string& id, std::int64_t item, bool is_duplicate) {
    const std::int64_t before = store->round_trips();
    const auto receipt = desk->put_answer(state.sitting, id, sent(item, {}));
    EXPECT_TRUE(receipt && receipt->is_duplicate == is_duplicate);
    if (receipt) state = receipt->state;
    return store->round_trips() - before;
  };
  const auto next = [&] {
    for (const auto& item : state.round->items)
      if (!item.answered) return item.item;
    throw std::runtime_error("no open item");
  };
  EXPECT_GT(trips_of(new_answer_id(), next(), false), 2) << "statements are prepared";
  const std::string id = new_answer_id();
  const std::int64_t item = next();
  EXPECT_EQ(trips_of(id, item, false), 2);
  EXPECT_EQ(trips_of(id, item, true), 2);
}
