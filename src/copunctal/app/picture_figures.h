// Figures of what the page of views shows, to keep and to show on slides.
#pragma once

#include <array>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/app/picture_desk.h"
#include "copunctal/base/result.h"

namespace copunctal {

struct FigureAsked {
  enum class What {
    view,    ///< Original and view.
    errors,  ///< The view and where it errs.
    strip,   ///< From a normal eye to a dichromat of the observer's kind (protan for others).
    same,    ///< One picked colour: what is the same, hatched. Two: how far apart, for whom.
    curves   ///< The observer's cone curves beside a normal's.
  };
  What what = What::view;
  std::string observer = "normal";
  /// Of errors: another picture that was taken in as a view of it; empty: our view.
  std::string view;
  /// Of same: one or two pixels of the preview, x and y.
  std::vector<std::array<int, 2>> picked;
  bool dark = false;  ///< On dark ground.
};
/// The kind of that name: view, errors, strip, same, curves. Error: usage.
Result<FigureAsked::What> figure_named(std::string_view name);

/// A figure of 16 : 9 with title, caption, sources, display and licence.
struct PictureFigure {
  std::string title;
  std::string words;    ///< The caption, for those who listen as well.
  std::string drawing;  ///< SVG elements on 1600 x 900.
  std::string profile;  ///< ICC bytes of the display the pictures in it are for.
};
/// Errors: not_found for a picture that is not kept any more; usage.
Result<PictureFigure> picture_figure(const PictureDesk& desk, std::string_view id,
                                     const FigureAsked& asked);

/// A figure as the bytes of a file (expects one of these): "svg"; "png", 1600 x 900; "pdf", a page
/// 320 mm wide. Title and words are in each, where its readers look for them. Errors: io.
Result<std::string> figure_file(const PictureFigure& figure, std::string_view kind);

}  // namespace copunctal
