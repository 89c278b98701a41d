// Pictures somebody looks at through other eyes: taken in, kept in memory for a while, never
// stored.
#pragma once

#include <array>
#include <cstdint>
#include <list>
#include <memory>
#include <mutex>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/app/run_sitting.h"
#include "copunctal/base/result.h"
#include "copunctal/image/picture.h"
#include "copunctal/store/identifiers.h"
#include "copunctal/view/audit.h"
#include "copunctal/view/kernel.h"

namespace copunctal {

/// A picture that was taken in. Its codes are those of the display it was taken in for.
struct TakenPicture {
  std::string id;       ///< 32 hexadecimal digits.
  std::string display;  ///< Full name.
  std::string format;
  int width = 0, height = 0;  ///< As it came, upright.
  std::string note;
  std::shared_ptr<const Picture> preview;  ///< At most 1.05 megapixels: what pages show and map.
};

/// What a page's kernel is to do for an observer (view/kernel.h).
struct ViewPlan {
  std::string method, observer, display;
  /// Whether the kernel alone gives the view; else the page asks for it colour by colour.
  bool is_whole = false;
  KernelPlan plan;
  std::vector<std::string> notes;
};

/// Which pixels of a preview an observer cannot tell from a colour: 1, else 0.
struct SameForWhom {
  int width = 0, height = 0;
  std::vector<std::uint8_t> mask;
  double share = 0;
};

/// How far apart two colours are for each observer, in their own thresholds.
struct ApartFor {
  std::string observer;
  double distance = 0;
};

/// May be used from any number of threads. Keeps the last few pictures; older ones are forgotten.
class PictureDesk {
 public:
  // A view beside its original, for one observer.
  struct Compared {
    std::shared_ptr<const Picture> original, view;
    AuditResult audit;
    std::vector<float> errors;  ///< A pixel each.
  };

  explicit PictureDesk(RandomBytes random) : random_(std::move(random)) {}

  /// Decodes by the locked-up child under the server's limits. Errors: bad_input, usage (display).
  Result<TakenPicture> take(std::string_view bytes, std::string_view display);
  /// Error common to the rest: not_found for a picture that is not (any more) there.
  Result<TakenPicture> picture(std::string_view id) const;
  /// The preview as an observer gets it. Errors: usage.
  Result<Picture> view(std::string_view id, const std::string& observer) const;
  /// Our view of the preview, or another picture that was taken in as a view of it, with its audit.
  /// Errors: usage; bad_input where the two differ in size.
  Result<std::shared_ptr<const Compared>> compared(std::string_view id, const std::string& observer,
                                                   std::string_view view) const;
  /// The audit of our view of the preview, or of another picture that was taken in as a view of it.
  /// Errors: usage; bad_input where the two differ in size.
  Result<AuditResult> audit(std::string_view id, const std::string& observer,
                            std::string_view view) const;
  /// Where that view errs, as heat_map() draws it.
  Result<Picture> map(std::string_view id, const std::string& observer,
                      std::string_view view) const;
  Result<SameForWhom> same(std::string_view id, const std::string& observer, int x, int y) const;

 private:
  RandomBytes random_;
  mutable std::mutex lock_;
  std::list<TakenPicture> kept_;  ///< The newest first.
  /// A page asks for the number, the map and the figure of what it shows, one after the other.
  mutable std::string last_asked_;
  mutable std::shared_ptr<const Compared> last_compared_;
};

/// For pages: what their kernel needs. Displays by name only. Errors: usage.
Result<ViewPlan> view_plan(const std::string& observer, std::string_view display);

/// Of two codes on a display, for the standard observers. Errors: usage.
Result<std::vector<ApartFor>> apart_for_all(const Code& a, const Code& b, std::string_view display);
/// The code of a pixel. Error (usage) for one that is outside.
Result<Code> code_at(const Picture& picture, int x, int y);
/// What such a distance comes to.
std::string_view apart_words(double distance);

}  // namespace copunctal
