// A check of a screen by eye: what its answers say of the screen, without any instrument.
//
// A raster of full-on and full-off lines has a mean that no tone curve can change. The code of a
// uniform field that looks like it from afar therefore tells the curve (docs/science/
// display_check.md). Pure: answers and the time go in, words and numbers come out.
#pragma once

#include <array>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/store/display_record.h"

namespace copunctal {

// The limits below decide what is said of a check. All of them are our own choice: no standard and
// no measurement stands behind them.
inline constexpr double usual_gamma_least = 2.0, usual_gamma_most = 2.4;    ///< Outside: a note.
inline constexpr double usable_gamma_least = 1.7, usable_gamma_most = 2.8;  ///< Outside: mend.
inline constexpr double usual_residual_codes = 6;    ///< Root mean square above: a note.
inline constexpr int usual_step = 8;                 ///< First step seen beyond this code: a note.
inline constexpr int usable_step = 16;               ///< Beyond this one, or none: mend.
inline constexpr double usual_spread_ms = 2;         ///< Frames vary by more: a note.
inline constexpr double usual_dropped_share = 0.01;  ///< More of them missing: a note.
inline constexpr int days_valid = 30;

/// How long the page watches the frames that `dropped_frames` were missing from.
inline constexpr double watched_seconds = 2;
/// Long side of a card of format ID-1, ISO/IEC 7810.
inline constexpr double card_mm = 85.60;

/// Linear light = (code / 255)^gamma, fitted to one channel.
struct ToneFit {
  double gamma = 0;
  double rms_codes = 0;  ///< Root mean square of what the fit leaves, in codes.
};

/// Least squares in codes: the gamma for which 255 share^(1/gamma) comes nearest to the codes.
/// Nothing without matches, or when no gamma between .2 and 8 is the best one.
std::optional<ToneFit> tone_fit(std::span<const ToneMatch> of_one_channel);

enum class FindingState { fine, note, mend };
std::string_view name_of(FindingState state);  ///< "fine", "note", "mend".

struct DisplayFinding {
  std::string what;  ///< "tone curve", "black", "white", "neutral", "night mode", ...
  FindingState state = FindingState::fine;
  std::string words;
};

/// A record and what it says at a given time.
struct CheckedDisplay {
  DisplayRecord record;
  bool valid = true;
  std::optional<std::string> ended;     ///< As in the record; "expired" too once its time is over.
  std::string status;                   ///< "assumed": nothing was measured with an instrument.
  std::string words;                    ///< One sentence for every page that uses the display.
  std::optional<double> pixels_per_mm;  ///< CSS pixels.
  std::array<std::optional<ToneFit>, 3> tone;  ///< Red, green, blue.
  std::vector<DisplayFinding> findings;        ///< Nine, always in the same order.
};

/// Error (bad_input) naming the field whose value cannot be meant.
Result<void> check_screen(const ScreenCheck& check);

/// The record of a check made now, which holds for days_valid. Error: as check_screen().
Result<DisplayRecord> new_record(const ScreenCheck& check, const std::string& now_utc,
                                 std::string id);

CheckedDisplay judged(DisplayRecord record, std::string_view now_utc);

/// The same time of day so many days later: "2030-02-01T03:04:05.678Z".
std::string days_later(std::string_view utc, int days);

}  // namespace copunctal
