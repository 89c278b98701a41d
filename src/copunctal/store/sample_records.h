// For tests: one practical, one sitting and its answers, as small as the store accepts.
#pragma once

#include <string>

#include "copunctal/store/records.h"

namespace copunctal {

/// An id that ends in `number`: sample_id(7) is "00000000000000000000000000000007".
inline std::string sample_id(int number) {
  const std::string digits = std::to_string(number);
  return std::string(32 - digits.size(), '0') + digits;
}

inline PracticalRecord sample_practical(int number = 1) {
  return {.id = sample_id(number),
          .name = "quiet harbour",
          .created_utc = "2030-01-02T03:04:05.678Z",
          .display = "srgb/oled",
          .set_hash = std::string(64, 'a'),
          .plates = 2,
          .exposure_ms = 3000,
          .grace_ms = 10000};
}

inline SittingRecord sample_sitting(int number = 1, int practical = 1) {
  return {.id = sample_id(number),
          .practical_id = sample_id(practical),
          .tell = "later",
          .sex_at_birth = "female",
          .order_seed = 0xfedcba9876543210,
          .state = "running",
          .consented_utc = "2030-01-02T03:05:00.000Z",
          .created_utc = "2030-01-02T03:05:00.000Z",
          .ended_utc = std::nullopt,
          .items = {{0, "warm-up", 1, sample_id(1000 * number)},
                    {1, "first", 0, sample_id(1000 * number + 1)}}};
}

inline AnswerRecord sample_answer(int number = 1, int item = 0, int sitting = 1) {
  return {.id = sample_id(number),
          .sitting_id = sample_id(sitting),
          .item = item,
          .symbols = {"4", "7"},
          .end = "answered",
          .onset_ms = 10234.5,
          .response_ms = 11890.1,
          .shown_ms = 1655.6,
          .frames = 99,
          .hidden = false,
          .page_load = sample_id(9),
          .body_sha256 = std::string(64, 'b'),
          .received_utc = "2030-01-02T03:06:00.000Z",
          .received_steady_ns = 123456789};
}

inline DisplayRecord sample_display_record(int number = 1) {
  return {.id = sample_id(number),
          .made_utc = "2030-01-02T03:04:05.678Z",
          .expires_utc = "2030-02-01T03:04:05.678Z",
          .ended = std::nullopt,
          .ended_utc = std::nullopt,
          .check = {.display = "srgb/oled",
                    .card_px = 323.5,
                    .device_pixel_ratio = 1.25,
                    .screen_px = {1920, 1080},
                    .screen_at = {-1920, 0},
                    .colour_depth = 24,
                    .gamut = "srgb",
                    .tone_matches = {{"r", 0.5, 188}, {"b", 0.25, 137}},
                    .black_step = 4,
                    .white_step = 252,
                    .neutral = "neutral",
                    .night_mode_off = true,
                    .adapted = true,
                    .room_light = "office",
                    .statement = "Lamp behind the class, blinds down – Gruppe \"Ü\"",
                    .refresh_hz = 59.94,
                    .frame_spread_ms = 0.4,
                    .dropped_frames = 0}};
}

}  // namespace copunctal
