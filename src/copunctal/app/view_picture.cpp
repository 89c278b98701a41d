#include "copunctal/app/view_picture.h"

#include <algorithm>
#include <cstring>
#include <utility>

#include "copunctal/base/expects.h"
#include "copunctal/base/text.h"
#include "copunctal/display/write_profile.h"
#include "copunctal/image/picture_sink.h"
#include "copunctal/image/sandboxed.h"

namespace copunctal {
namespace {

namespace fs = std::filesystem;

// Some of a picture's pixels, spread evenly over it, in strides that do not fall in with its
// columns.
class Sampler {
 public:
  Sampler(Auditor auditor, std::int64_t pixels) : auditor_(std::move(auditor)), tally_(auditor_) {
    // The mean of so many is sure to a few thousandths; two decimals are said.
    constexpr std::int64_t enough = 1 << 11;
    stride_ = std::max<std::int64_t>(1, pixels / enough) | 1;
  }

  // The next strip, before and after it is changed in place.
  template <class Number>
  void before(std::span<const Number> codes) {
    originals_.clear();
    for_each(codes, [&](const Number* code) { originals_.push_back(linear(code)); });
  }
  template <class Number>
  void after(std::span<const Number> codes) {
    auto original = originals_.begin();
    for_each(codes,
             [&](const Number* code) { tally_.add(auditor_.compare(*original++, linear(code))); });
    const auto pixels = static_cast<std::int64_t>(codes.size() / 3);
    next_ += (seen_ + pixels - next_ + stride_ - 1) / stride_ * stride_;
    seen_ += pixels;
  }
  AuditResult result() const { return tally_.result(); }

 private:
  template <class Number, class Take>
  void for_each(std::span<const Number> codes, Take&& take) const {
    const auto pixels = static_cast<std::int64_t>(codes.size() / 3);
    for (std::int64_t at = next_ - seen_; at < pixels; at += stride_)
      take(&codes[3 * static_cast<std::size_t>(at)]);
  }
  LinearRgb linear(const std::uint8_t* codes) const {
    return auditor_.light().linear({codes[0], codes[1], codes[2]});
  }
  LinearRgb linear(const std::uint16_t* codes) const { return auditor_.deep_light(codes); }

  Auditor auditor_;
  AuditTally tally_;
  std::vector<LinearRgb> originals_;
  // The next pixel to look at, at or after the strip's first; both counted from the picture's.
  std::int64_t stride_ = 1, next_ = 0, seen_ = 0;
};

// The picture through the map, strip by strip: rows without alpha in place, colours beside alpha
// taken out and put back.
class Strips {
 public:
  // `step`: of an exact view.
  Strips(ViewMap& map, Sampler& sampler, const PictureHeader& header, const Display& display,
         const std::optional<AffineStep>& step)
      : map_(map), sampler_(sampler), header_(header) {
    if (step && header.bits == 16) deep_step_.emplace(*step, display.curves);
    if (step && header.bits == 8) plain_step_.emplace(*step, display.curves);
  }

  // `compressed`, where not empty, gets the originals an exact view is compared with.
  void view(std::span<std::uint8_t> rows, std::span<std::uint8_t> compressed) {
    if (header_.bits == 8 && !header_.has_alpha)
      view_codes(rows, plain_step_,
                 [&] { std::copy(rows.begin(), rows.end(), compressed.begin()); });
    else if (header_.bits == 8)
      view_copied(plain_, plain_step_, rows, compressed);
    else
      view_copied(deep_, deep_step_, rows, compressed);
  }

 private:
  template <class Number, class Keep>
  void view_codes(std::span<Number> codes, const std::optional<CodeStep<Number>>& step,
                  Keep&& keep_compressed) {
    if (step) {
      (*step)(codes);
      keep_compressed();
    }
    sampler_.before(std::span<const Number>(codes));
    map_.apply(codes);
    sampler_.after(std::span<const Number>(codes));
  }
  template <class Number>
  void view_copied(std::vector<Number>& codes, const std::optional<CodeStep<Number>>& step,
                   std::span<std::uint8_t> rows, std::span<std::uint8_t> compressed) {
    const std::size_t pixels = rows.size() / (header_.channels() * sizeof(Number));
    codes.resize(3 * pixels);
    for (std::size_t i = 0; i < pixels; ++i)
      std::memcpy(&codes[3 * i], &rows[header_.channels() * i * sizeof(Number)],
                  3 * sizeof(Number));
    view_codes(std::span<Number>(codes), step, [&] {
      std::copy(rows.begin(), rows.end(), compressed.begin());
      put(codes.data(), compressed, pixels);
    });
    put(codes.data(), rows, pixels);
  }
  template <class Number>
  void put(const Number* codes, std::span<std::uint8_t> rows, std::size_t pixels) const {
    for (std::size_t i = 0; i < pixels; ++i)
      std::memcpy(&rows[header_.channels() * i * sizeof(Number)], codes + 3 * i,
                  3 * sizeof(Number));
  }

  ViewMap& map_;
  Sampler& sampler_;
  const PictureHeader& header_;
  std::vector<std::uint8_t> plain_;
  std::vector<std::uint16_t> deep_;
  std::optional<CodeStep<std::uint8_t>> plain_step_;
  std::optional<CodeStep<std::uint16_t>> deep_step_;
};

}  // namespace

fs::path original_beside(const fs::path& out) {
  fs::path beside = out;
  beside.replace_filename(out.stem().string() + "-original" + out.extension().string());
  return beside;
}

Result<ViewReport> view_picture(const ViewJob& job, const Observer& observer,
                                const Display& display) {
  const Fundamentals normal = fundamentals_of(eye_of_claim(observer)),
                     other = fundamentals_of(observer);
  COPUNCTAL_TRY(ViewMap map, ViewMap::from(normal, other, observer, display, job.method));
  std::optional<AffineStep> step;
  if (job.exact) {
    COPUNCTAL_TRY(step, map.step_into_range());
  }
  COPUNCTAL_TRY(const PictureFormat to, format_for(job.out));
  const std::string profile = profile_of(display);
  COPUNCTAL_TRY(
      auto source,
      open_picture(job.in, {.page = job.page, .target = profile, .trusted = job.trusted}));
  const bool keeps_orientation = to == PictureFormat::jpeg || to == PictureFormat::tiff;
  if (source->header().orientation != 1 && !keeps_orientation) {
    COPUNCTAL_TRY(source, turned_upright(std::move(source)));
  }
  const PictureHeader header = source->header();
  // A PNG for an sRGB display says so in a few bytes.
  const bool is_srgb =
      display.curves[0].is_srgb() && display.name.starts_with("srgb") && to == PictureFormat::png;
  const std::string_view embedded = is_srgb ? std::string_view() : profile;
  COPUNCTAL_TRY(const auto sink, open_sink(job.out, header, embedded));
  std::unique_ptr<PictureSink> beside;
  if (job.exact) {
    COPUNCTAL_TRY(beside, open_sink(original_beside(job.out), header, embedded));
  }
  Sampler sampler(Auditor(normal, other, observer, display),
                  static_cast<std::int64_t>(header.width) * header.height);
  Strips strips(map, sampler, header, display, step);
  constexpr std::size_t strip_bytes = 1U << 19;
  const std::size_t stride = header.stride(), most = std::max<std::size_t>(1, strip_bytes / stride);
  const auto height = static_cast<std::size_t>(header.height);
  std::vector<std::uint8_t> compressed;
  for (std::size_t done = 0; done < height;) {
    COPUNCTAL_TRY(const std::span<std::uint8_t> part, source->take(most));
    compressed.resize(job.exact ? part.size() : 0);
    strips.view(part, compressed);
    for (std::size_t at = 0; at < part.size(); at += stride) {
      COPUNCTAL_TRY_VOID(sink->write(part.subspan(at, stride)));
      if (beside) COPUNCTAL_TRY_VOID(beside->write({&compressed[at], stride}));
    }
    const std::size_t rows = part.size() / stride;
    done += rows;
    if (job.progress) job.progress(done, height);
  }
  COPUNCTAL_TRY_VOID(sink->finish());
  if (beside) COPUNCTAL_TRY_VOID(beside->finish());

  ViewReport report;
  report.observer = name_of(observer);
  report.display = display.name;
  report.method = name_of(map.method());
  report.in = job.in;
  report.out = job.out;
  if (job.exact) report.compressed = original_beside(job.out);
  report.width = header.width;
  report.height = header.height;
  report.bits = header.bits;
  report.pages = header.pages;
  report.share_out_of_range = map.share_out_of_range();
  report.error = sampler.result();
  report.notes = notes_on(observer);
  report.notes.emplace_back("display " + display.name + ": " + display.status);
  if (!header.note.empty()) report.notes.push_back(header.note);
  if (const std::string_view lost = lost_in(to, header); !lost.empty())
    report.notes.emplace_back(lost);
  if (to == PictureFormat::jpeg || to == PictureFormat::webp)
    report.notes.emplace_back("audited before the lossy compression of " +
                              std::string(name_of(to)));
  if (header.has_alpha && to != PictureFormat::jpeg)
    report.notes.emplace_back("transparency was kept as it is");
  if (map.method() == ViewMethod::published_2009)
    report.notes.emplace_back("published severity " + decimals(published_severity(observer), 0) +
                              " % by our assignment; the matrices belong to one cathode-ray tube");
  if (header.pages > 1)
    report.notes.emplace_back("page " + std::to_string(job.page + 1) + " of " +
                              std::to_string(header.pages));
  return report;
}

}  // namespace copunctal
