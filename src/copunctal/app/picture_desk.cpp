#include "copunctal/app/picture_desk.h"

#include <algorithm>
#include <cerrno>
#include <cmath>
#include <system_error>
#include <utility>

#include <fmt/format.h>
#include <sys/mman.h>
#include <unistd.h>

#include "copunctal/app/audit_view.h"
#include "copunctal/colour/encoding.h"
#include "copunctal/display/write_profile.h"
#include "copunctal/image/sandboxed.h"
#include "copunctal/reader/predict.h"
#include "copunctal/view/apart.h"

namespace copunctal {
namespace {

constexpr std::size_t most_kept = 6;
constexpr std::int64_t preview_pixels = 1'050'000;

// Whole blocks of pixels averaged in codes: nobody measures a preview.
Picture preview_of(Picture picture) {
  const std::int64_t pixels = std::int64_t{picture.width} * picture.height;
  if (pixels <= preview_pixels) return picture;
  const int by = static_cast<int>(
      std::ceil(std::sqrt(static_cast<double>(pixels) / static_cast<double>(preview_pixels))));
  Picture small(std::max(1, picture.width / by), std::max(1, picture.height / by));
  for (int y = 0; y < small.height; ++y)
    for (int x = 0; x < small.width; ++x)
      for (std::size_t c = 0; c < 3; ++c) {
        unsigned sum = 0, count = 0;
        for (int dy = 0; dy < by && y * by + dy < picture.height; ++dy)
          for (int dx = 0; dx < by && x * by + dx < picture.width; ++dx, ++count)
            sum += picture.rgb[3 * (static_cast<std::size_t>(y * by + dy) *
                                        static_cast<std::size_t>(picture.width) +
                                    static_cast<std::size_t>(x * by + dx)) +
                               c];
        small.rgb[3 * (static_cast<std::size_t>(y) * static_cast<std::size_t>(small.width) +
                       static_cast<std::size_t>(x)) +
                  c] = static_cast<std::uint8_t>((sum + count / 2) / count);
      }
  return small;
}

// A file that is nowhere: what reads pictures reads files.
class NowhereFile {
 public:
  explicit NowhereFile(std::string_view bytes) : number_(memfd_create("picture", MFD_CLOEXEC)) {
    while (number_ >= 0 && !bytes.empty()) {
      const ssize_t wrote = write(number_, bytes.data(), bytes.size());
      if (wrote < 0 && errno == EINTR) continue;
      if (wrote <= 0) break;
      bytes.remove_prefix(static_cast<std::size_t>(wrote));
    }
    is_good_ = number_ >= 0 && bytes.empty();
  }
  NowhereFile(const NowhereFile&) = delete;
  NowhereFile& operator=(const NowhereFile&) = delete;
  ~NowhereFile() {
    if (number_ >= 0) close(number_);
  }
  bool is_good() const { return is_good_; }
  std::string path() const { return "/proc/self/fd/" + std::to_string(number_); }

 private:
  int number_;
  bool is_good_ = false;
};

struct Looked {
  TakenPicture picture;
  Observer observer;
  Display display;
};

}  // namespace

Result<TakenPicture> PictureDesk::take(std::string_view bytes, std::string_view display_name) {
  COPUNCTAL_TRY(const Display display, named_display(display_name));
  const NowhereFile file(bytes);
  if (!file.is_good())
    return fail(Error::Kind::io, "there is no memory for the picture", "picture", "",
                "close something and try again");
  const auto without_path = [&](Error error) {
    const std::string path = file.path() + ": ";
    if (error.message.starts_with(path)) error.message.erase(0, path.size());
    error.message = "the picture " + error.message;
    error.place.clear();
    return error;
  };
  const OpenOptions options = options_of_server(profile_of(display));
  COPUNCTAL_TRY(const auto source, open_picture(file.path(), options).map_error(without_path));
  TakenPicture taken;
  taken.display = display.name;
  taken.format = name_of(source->header().format);
  taken.note = source->header().note;
  COPUNCTAL_TRY(Picture whole, whole_picture(*source).map_error(without_path));
  taken.width = whole.width;
  taken.height = whole.height;
  taken.preview = std::make_shared<const Picture>(preview_of(std::move(whole)));
  const std::scoped_lock hold(lock_);
  taken.id = new_id(random_);
  kept_.push_front(taken);
  if (kept_.size() > most_kept) kept_.pop_back();
  return taken;
}

Result<TakenPicture> PictureDesk::picture(std::string_view id) const {
  const std::scoped_lock hold(lock_);
  const auto at = std::find_if(kept_.begin(), kept_.end(),
                               [&](const TakenPicture& one) { return one.id == id; });
  if (at != kept_.end()) return *at;
  return fail(Error::Kind::not_found, "there is no such picture any more", "picture",
              std::string(id),
              "drop the picture again; the last six are kept, until the program ends");
}

namespace {

Code nth_code(const Picture& picture, std::size_t pixel) {
  return {picture.rgb[3 * pixel], picture.rgb[3 * pixel + 1], picture.rgb[3 * pixel + 2]};
}

Result<Looked> looked_at(const PictureDesk& desk, std::string_view id,
                         const std::string& observer) {
  COPUNCTAL_TRY(TakenPicture picture, desk.picture(id));
  COPUNCTAL_TRY(const Observer who, observer_from(observer));
  COPUNCTAL_TRY(Display display, named_display(picture.display));
  return Looked{std::move(picture), who, std::move(display)};
}

// The view that is audited: ours, or another picture of the same size.
Result<std::shared_ptr<const Picture>> audited(const PictureDesk& desk, const Looked& looked,
                                               std::string_view view) {
  if (!view.empty()) {
    COPUNCTAL_TRY(const TakenPicture other, desk.picture(view));
    if (other.width != looked.picture.width || other.height != looked.picture.height)
      return fail(
          Error::Kind::bad_input,
          fmt::format("the pictures differ in size: {} x {} and {} x {}", looked.picture.width,
                      looked.picture.height, other.width, other.height),
          "view", "", "give the original and a view of the whole of it");
    return other.preview;
  }
  COPUNCTAL_TRY(ViewMap map, ViewMap::make(looked.observer, looked.display));
  Picture seen = looked.picture.preview->clone();
  map.apply(std::span<std::uint8_t>(seen.rgb));
  return std::make_shared<const Picture>(std::move(seen));
}

}  // namespace

Result<Picture> PictureDesk::view(std::string_view id, const std::string& observer) const {
  COPUNCTAL_TRY(const Looked looked, looked_at(*this, id, observer));
  COPUNCTAL_TRY(const auto seen, audited(*this, looked, {}));
  return seen->clone();
}

Result<std::shared_ptr<const PictureDesk::Compared>> PictureDesk::compared(
    std::string_view id, const std::string& observer, std::string_view view) const {
  COPUNCTAL_TRY(const Looked looked, looked_at(*this, id, observer));
  const std::string asked = fmt::format("{} {} {}", id, name_of(looked.observer), view);
  {
    const std::scoped_lock hold(lock_);
    if (asked == last_asked_) return last_compared_;
  }
  Compared both;
  both.original = looked.picture.preview;
  COPUNCTAL_TRY(both.view, audited(*this, looked, view));
  PictureAudit audit(looked.observer, looked.display);
  both.errors.resize(both.original->rgb.size() / 3);
  audit.add(both.original->rgb, both.view->rgb, both.errors);
  both.audit = audit.result();
  auto found = std::make_shared<const Compared>(std::move(both));
  const std::scoped_lock hold(lock_);
  last_asked_ = asked;
  last_compared_ = found;
  return found;
}

Result<AuditResult> PictureDesk::audit(std::string_view id, const std::string& observer,
                                       std::string_view view) const {
  COPUNCTAL_TRY(const auto both, compared(id, observer, view));
  return both->audit;
}

Result<Picture> PictureDesk::map(std::string_view id, const std::string& observer,
                                 std::string_view view) const {
  COPUNCTAL_TRY(const auto both, compared(id, observer, view));
  return heat_map(both->errors, both->original->width, both->original->height);
}

Result<Code> code_at(const Picture& picture, int x, int y) {
  if (x < 0 || y < 0 || x >= picture.width || y >= picture.height)
    return fail(Error::Kind::usage, "there is no such pixel", "at", fmt::format("{},{}", x, y),
                fmt::format("click within {} x {}", picture.width, picture.height));
  return nth_code(picture, static_cast<std::size_t>(y) * static_cast<std::size_t>(picture.width) +
                               static_cast<std::size_t>(x));
}

Result<SameForWhom> PictureDesk::same(std::string_view id, const std::string& observer, int x,
                                      int y) const {
  COPUNCTAL_TRY(const Looked looked, looked_at(*this, id, observer));
  const Picture& picture = *looked.picture.preview;
  COPUNCTAL_TRY(const Code picked, code_at(picture, x, y));
  const ColoursApart apart(looked.observer, looked.display);
  const CodeLight light(looked.display.curves);
  const LinearRgb clicked = light.linear(picked);
  SameForWhom same{picture.width, picture.height, {}, 0};
  same.mask.resize(picture.rgb.size() / 3);
  std::size_t count = 0;
  for (std::size_t i = 0; i < same.mask.size(); ++i) {
    same.mask[i] = apart(clicked, light.linear(nth_code(picture, i))) < 1 ? 1 : 0;
    count += same.mask[i];
  }
  same.share = static_cast<double>(count) / static_cast<double>(same.mask.size());
  return same;
}

Result<ViewPlan> view_plan(const std::string& observer, std::string_view display_name) {
  COPUNCTAL_TRY(const Display display, named_display(display_name));
  COPUNCTAL_TRY(const Observer who, observer_from(observer));
  COPUNCTAL_TRY(const ViewMap map, ViewMap::make(who, display));
  ViewPlan plan;
  plan.method = name_of(map.method());
  plan.observer = name_of(who);
  plan.display = display.name;
  plan.notes = notes_on(who);
  const auto kernel = map.kernel_plan();
  plan.is_whole = kernel && map.method() != ViewMethod::half_planes;
  if (kernel) plan.plan = *kernel;
  return plan;
}

Result<std::vector<ApartFor>> apart_for_all(const Code& a, const Code& b,
                                            std::string_view display_name) {
  COPUNCTAL_TRY(const Display display, named_display(display_name));
  const CodeLight light(display.curves);
  std::vector<ApartFor> all;
  for (const std::string& observer : standard_observers())
    all.push_back({observer, ColoursApart(*observer_from(observer), display)(light.linear(a),
                                                                             light.linear(b))});
  return all;
}

std::string_view apart_words(double distance) {
  if (distance < 1) return "cannot tell them apart";
  return distance < 3 ? "barely apart" : distance < 10 ? "apart" : "far apart";
}

}  // namespace copunctal
