// What figures of pictures say, and what is asked for that there is none of.
#include "copunctal/app/picture_figures.h"

#include <gtest/gtest.h>

namespace copunctal {
namespace {

TEST(PictureFigures, DistancesHaveWords) {
  EXPECT_EQ(apart_words(0.5), "cannot tell them apart");
  EXPECT_EQ(apart_words(2), "barely apart");
  EXPECT_EQ(apart_words(5), "apart");
  EXPECT_EQ(apart_words(50), "far apart");
}

TEST(PictureFigures, PixelsOutsideHaveNoCode) {
  Picture picture(2, 1);
  picture.rgb = {1, 2, 3, 4, 5, 6};
  EXPECT_EQ(code_at(picture, 1, 0).value(), (Code{4, 5, 6}));
  for (const auto& [x, y] : {std::pair{-1, 0}, {0, -1}, {2, 0}, {0, 1}})
    EXPECT_EQ(code_at(picture, x, y).error().kind, Error::Kind::usage);
}

TEST(PictureFigures, ThereAreFiveKinds) {
  EXPECT_EQ(figure_named("strip").value(), FigureAsked::What::strip);
  EXPECT_EQ(figure_named("all").error().kind, Error::Kind::usage);
}

}  // namespace
}  // namespace copunctal
