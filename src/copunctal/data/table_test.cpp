#include "copunctal/data/table.h"

#include <gtest/gtest.h>

#include "copunctal/data/catalogue.h"

namespace copunctal {
namespace {

TEST(Table, ReadsCommentsHeaderAndRows) {
  const auto table = read_table("# a comment\nnm, a\n400,1\r\n405,2.5e-3\n\n", "t.csv");
  ASSERT_TRUE(table.has_value());
  EXPECT_EQ(table->column_names, (std::vector<std::string>{"nm", "a"}));
  EXPECT_EQ(table->column("a"), (std::vector<double>{1, 2.5e-3}));
}

TEST(Table, NamesTheLineThatIsWrong) {
  for (const char* csv : {"nm,a\n400,1\n405\n", "nm,a\n400,1\n405,x\n", "nm,a\n400,1\n405,nan\n"}) {
    const auto table = read_table(csv, "t.csv");
    ASSERT_FALSE(table.has_value());
    EXPECT_EQ(table.error().kind, Error::Kind::bad_input);
    EXPECT_EQ(table.error().place, "t.csv:3");
    EXPECT_FALSE(table.error().remedy.empty());
  }
  EXPECT_FALSE(read_table("# nothing\n", "t.csv").has_value());
}

TEST(Catalogue, UnknownTableIsAnError) {
  EXPECT_EQ(provenance("no_such_table").error().kind, Error::Kind::not_found);
}

}  // namespace
}  // namespace copunctal
