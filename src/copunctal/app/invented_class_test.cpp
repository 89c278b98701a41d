#include "copunctal/app/invented_class.h"

#include <gtest/gtest.h>

#include <algorithm>

#include "copunctal/app/rehearsal_desk.h"
#include "copunctal/app/run_sitting_sample_set.h"
#include "copunctal/base/files.h"
#include "copunctal/store/scratch_directory.h"

using namespace copunctal;

namespace {

namespace fs = std::filesystem;

Result<std::shared_ptr<const ReadingTables>> no_tables(const PlateSet&) {
  return fail(Error::Kind::bad_input, "no tables in this test");
}

NewPractical named(const std::string& name) {
  NewPractical wish;
  wish.name = name;
  return wish;
}

}  // namespace

TEST(InventedClass, has_two_latecomers_one_who_refuses_and_one_off_the_record) {
  for (const std::size_t size : {std::size_t{6}, std::size_t{30}, most_invented}) {
    const auto people = invented_class(size, 7);
    const auto count = [&](auto which) {
      return std::count_if(people.begin(), people.end(), which);
    };
    EXPECT_EQ(people.size(), size);
    EXPECT_EQ(count([](const auto& one) { return one.is_late; }), 2);
    EXPECT_EQ(count([](const auto& one) { return one.refuses; }), 1);
    EXPECT_EQ(count([](const auto& one) { return one.is_off_record; }), 1);
    EXPECT_EQ(count([](const auto& one) {
                return static_cast<int>(one.refuses) + static_cast<int>(one.is_off_record) +
                           static_cast<int>(one.is_late) >
                       1;
              }),
              0);
  }
}

TEST(InventedClass, is_the_same_for_a_seed_and_another_for_another) {
  const auto names = [](std::uint64_t seed) {
    std::string all;
    for (const InventedPerson& one : invented_class(100, seed))
      all += one.observer + (one.is_man ? " man\n" : " woman\n");
    return all;
  };
  EXPECT_EQ(names(3), names(3));
  EXPECT_NE(names(3), names(4));
}

// Men 8 %, women .4 % (Birch 2012): of 300 people in 40 classes, so many red-green deficiencies
// that four standard errors are 1.4 and .4 in a hundred.
TEST(InventedClass, has_deficiencies_as_often_as_people_do) {
  double men = 0, women = 0, men_with = 0, women_with = 0;
  for (std::uint64_t seed = 0; seed < 40; ++seed)
    for (const InventedPerson& one : invented_class(300, seed)) {
      const bool has = one.observer.starts_with("protan") || one.observer.starts_with("deutan");
      (one.is_man ? men : women) += 1;
      if (has) (one.is_man ? men_with : women_with) += 1;
    }
  EXPECT_NEAR(men_with / men, 0.08, 0.014);
  EXPECT_NEAR(women_with / women, 0.004, 0.004);
}

TEST(Rehearsal, leaves_no_byte_behind_and_touches_nothing_beside_it) {
  const ScratchDirectory data;
  const fs::path directory = rehearsal_directory(data.path());
  {
    auto desk = RehearsalDesk::open(directory, sample_set(), 1, no_tables);
    ASSERT_TRUE(desk) << desk.error().message;
    ASSERT_TRUE((*desk)->desk().create_practical(named("canary in a rehearsal")));
    bool is_there = false;
    for (const auto& entry : fs::recursive_directory_iterator(directory))
      is_there =
          is_there || read_file(entry.path()).value_or("").find("canary") != std::string::npos;
    EXPECT_TRUE(is_there) << "the test can see what is kept";
    // Held: nobody else may take it away.
    EXPECT_FALSE(remove_rehearsal(directory));
    EXPECT_FALSE(RehearsalDesk::open(directory, sample_set(), 1, no_tables));
  }
  EXPECT_TRUE(fs::is_empty(data.path())) << "not even the directory is left";
}

TEST(Rehearsal, that_was_never_ended_is_removed_by_the_next) {
  const ScratchDirectory data;
  const fs::path directory = rehearsal_directory(data.path());
  fs::create_directories(directory);
  fs::permissions(directory, fs::perms::owner_all);
  ASSERT_TRUE(write_file("canary", directory / "copunctal.db-wal"));
  ASSERT_TRUE(remove_rehearsal(directory));
  EXPECT_FALSE(fs::exists(directory));
  EXPECT_TRUE(remove_rehearsal(directory)) << "nothing to remove is no trouble";
}

TEST(Rehearsal, draws_the_same_ids_and_orders_for_a_seed) {
  const auto begun = [](std::uint64_t seed) {
    const ScratchDirectory data;
    auto desk =
        RehearsalDesk::open(rehearsal_directory(data.path()), sample_set(), seed, no_tables);
    const auto practical = (*desk)->desk().create_practical(named("one"));
    NewSitting wish;
    wish.consent = true;
    const auto sitting = (*desk)->desk().begin_sitting(practical->id, wish);
    return practical->id + sitting->sitting + sitting->pseudonym;
  };
  EXPECT_EQ(begun(5), begun(5));
  EXPECT_NE(begun(5), begun(6));
}
